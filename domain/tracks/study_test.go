package tracks_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"delaybook/domain/recording"
	"delaybook/domain/tracks"
	"delaybook/domain/tracks/tracktest"
)

// The numbers of TRACKS.md: go test ./domain/tracks -run Study -v -trials 300
var trials = flag.Int("trials", 0, "trials of the studies; 0: a few")

// A scene is a desk track and a camera microphone in a room.
type scene struct {
	source             source
	seconds            int
	rt60, direct, snr  float64 // reverberation time in s; direct to reverberant and signal to noise in dB
	ppm                float64
	camera, upsideDown bool
}

// hear returns the microphone (late by delay seconds) and the desk.
func (s scene) hear(r *rand.Rand, delay float64) (mic, desk tracks.Track) {
	x := s.source.make(r, s.seconds*rate)
	late := tracktest.Delay(x, delay)
	if s.ppm != 0 {
		late = tracktest.Drift(late, s.ppm)
	}
	if s.rt60 > 0 {
		late = tracktest.Room(r, late, s.rt60, s.direct)
	}
	if s.camera {
		late = tracktest.CameraMic(late)
	}
	if s.upsideDown {
		for i := range late {
			late[i] = -late[i]
		}
	}
	return track(0, tracktest.Add(r, late, s.snr)), track(1, tracktest.Add(r, x, 40))
}

// A tally gathers what trials of one scene gave.
type tally struct {
	n, refused, covered, wrong, driftCovered int
	worst, sum, uSum, driftWorst             float64
	why                                      map[recording.RefusalCode]int
}

func (t *tally) add(got recording.Result, delay, ppm float64) {
	t.n++
	if got.Refused != nil {
		t.refused++
		if t.why == nil {
			t.why = map[recording.RefusalCode]int{}
		}
		t.why[got.Refused.Code]++
		return
	}
	away := math.Abs(got.OffsetMS - 1000*delay)
	t.sum, t.worst, t.uSum = t.sum+away, max(t.worst, away), t.uSum+got.UMS
	if away > 1 {
		t.wrong++
	}
	if away <= 2*got.UMS {
		t.covered++
	}
	if got.DriftPPM != nil {
		t.driftWorst = max(t.driftWorst, math.Abs(*got.DriftPPM-ppm))
		if math.Abs(*got.DriftPPM-ppm) <= 2**got.DriftUPPM {
			t.driftCovered++
		}
	}
}

func (t *tally) String() string {
	m := float64(max(1, t.n-t.refused))
	return fmt.Sprintf("n %d refused %d %v wrong %d | mean %.4f worst %.4f u %.4f covered %.1f%% | drift worst %.2f covered %.1f%%",
		t.n, t.refused, t.why, t.wrong, t.sum/m, t.worst, t.uSum/m, 100*float64(t.covered)/m, t.driftWorst, 100*float64(t.driftCovered)/m)
}

var studied = []scene{
	{seconds: 5, rt60: 0.6, direct: 0, snr: 0, camera: true},
	{seconds: 20, rt60: 0.6, direct: 0, snr: 0, camera: true},
	{seconds: 10, rt60: 1.2, direct: -6, snr: 0, camera: true},
	{seconds: 10, rt60: 0.3, direct: 3, snr: 15},
	{seconds: 20, rt60: 0.6, direct: 0, snr: 0, camera: true, ppm: 20},
	{seconds: 20, rt60: 0.6, direct: 0, snr: 0, camera: true, ppm: -100},
	{seconds: 20, rt60: 0.6, direct: 0, snr: 0, camera: true, ppm: 1000},
	{seconds: 20, rt60: 0.6, direct: 0, snr: 0, camera: true, ppm: -999},
	{seconds: 5, rt60: 0.6, direct: 0, snr: 0, camera: true, ppm: 1000},
	{seconds: 10, rt60: 0.6, direct: 0, snr: 0, camera: true, upsideDown: true},
}

func TestStudyRelated(t *testing.T) {
	if *trials == 0 {
		return
	}
	for _, s := range studied {
		for _, from := range sources {
			s.source = from
			var all tally
			for seed := range *trials {
				r := seeded(uint64(seed))
				delay := 2 * (r.Float64() - 0.5)
				mic, desk := s.hear(r, delay)
				got := tracks.Compare(mic, desk)
				all.add(got, delay, s.ppm)
				if got.Refused == nil && math.Abs(got.OffsetMS-1000*delay) > max(0.2, 2*got.UMS) {
					t.Logf("   seed %d: off by %.3f u %.3f %v", seed, got.OffsetMS-1000*delay, got.UMS, got.Flags)
				}
			}
			t.Logf("%s %ds rt %g %+g dB snr %g ppm %g cam %v: %v", from.name, s.seconds, s.rt60, s.direct, s.snr, s.ppm, s.camera, &all)
		}
	}
}

// TestUnrelatedTracksAreRefused compares every two of a set of recordings that share no sound.
func TestUnrelatedTracksAreRefused(t *testing.T) {
	t.Parallel()
	n := 1
	for 4*n*(4*n-1)/2 < *trials { // as many recordings as make that many pairs
		n++
	}
	var all []tracks.Track
	for seed := range n {
		r := seeded(uint64(1000 + seed))
		for _, s := range sources {
			x := tracktest.Room(r, s.make(r, 4*rate), 0.6, 0)
			all = append(all, track(len(all), tracktest.Add(r, x, 20)))
		}
		all = append(all, track(len(all), tracktest.Noise(r, 4*rate)))
	}
	pairs := 0
	for i := range all {
		for j := range i {
			if *trials > 0 && pairs >= *trials {
				break
			}
			if pairs++; pairs%25 == 0 {
				t.Logf("%d pairs so far", pairs)
			}
			if got := tracks.Compare(all[i], all[j]); got.Refused == nil {
				t.Errorf("recordings %d and %d: %s, u %.3f, %v", i, j, got.Said, got.UMS, got.Flags)
			}
		}
	}
	t.Logf("%d pairs", pairs)
}

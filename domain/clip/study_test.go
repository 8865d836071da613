package clip_test

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"delaybook/domain/clip"
	"delaybook/domain/clip/camera"
	"delaybook/domain/recording"
)

var (
	trials = flag.Int("clip.trials", 0, "recordings per condition of the whole study; 0: one of some conditions")
	only   = flag.String("clip.only", "", "only conditions whose name contains this text")
)

// A condition changes an easy scene.
type condition struct {
	name   string
	change func(s *camera.Scene)
	worst  float64 // milliseconds: no error may be larger
}

var rates = []struct {
	name string
	fps  float64
}{
	{"23.976", 24000.0 / 1001},
	{"24", 24},
	{"25", 25},
	{"29.97", 30000.0 / 1001},
	{"30", 30},
	{"50", 50},
	{"59.94", 60000.0 / 1001},
	{"60", 60},
}

func conditions() []condition {
	var out []condition
	for _, r := range rates {
		for _, e := range []float64{0.05, 0.5, 1} {
			worst := 0.5
			if e < 0.1 {
				worst = 1e3 / r.fps / 8
			}
			out = append(out, condition{
				fmt.Sprintf("rate %s exposure %g", r.name, e),
				func(s *camera.Scene) { s.FPS, s.Exposure = r.fps, e }, worst,
			})
		}
	}
	return append(append(out, hard()...), motion()...)
}

// hard are conditions of sound and light.
func hard() []condition {
	var out []condition
	with := func(name string, worst float64, change func(s *camera.Scene)) {
		out = append(out, condition{name, change, worst})
	}
	for _, snr := range []float64{-12, -6, 0, 10, 30} {
		worst := 0.5
		if snr < 0 {
			worst = 3
		}
		with(fmt.Sprintf("sound snr %g", snr), worst, func(s *camera.Scene) { s.SNR = snr })
	}
	for _, r := range [][2]float64{{0, 0}, {0.4, 0}, {1, 3}, {1, -3}, {2, -6}} {
		with(fmt.Sprintf("room rt60 %g drr %g", r[0], r[1]), 0.7, func(s *camera.Scene) { s.RT60, s.DRR = r[0], r[1] })
	}
	with("sound pre-echo in silence", 0.5, func(s *camera.Scene) { s.PreEcho, s.SNR, s.RT60 = 0.03, 100, 0 })
	for _, n := range []float64{0.005, 0.06, 0.15, 0.3} {
		with(fmt.Sprintf("picture noise %g", n), 0.6, func(s *camera.Scene) { s.Noise = n })
	}
	with("gamma 1.8", 1, func(s *camera.Scene) { s.Gamma = 1.8 })
	with("gamma 2.6", 1, func(s *camera.Scene) { s.Gamma = 2.6 })
	with("s-curve 0.3", 1, func(s *camera.Scene) { s.SCurve = 0.3 })
	with("auto exposure 0.1", 1.5, func(s *camera.Scene) { s.Pumping = 0.1 })
	with("flicker 0.3", 0.6, func(s *camera.Scene) { s.FlickerHz, s.Flicker = 100, 0.3 })
	with("shake 0.4 %", 0.5, func(s *camera.Scene) { s.Shake = 0.004 })
	with("shake 1.5 %", 3, func(s *camera.Scene) { s.Shake = 0.015 })
	with("blur", 0.5, func(s *camera.Scene) { s.Blur = 4 })
	with("area 2 %", 0.5, func(s *camera.Scene) { s.Area = 0.02 })
	with("area 10 % off centre", 0.5, func(s *camera.Scene) { s.Area, s.OffCentre = 0.1, -0.25 })
	with("overexposed", 2, func(s *camera.Scene) { s.Gain = 3 })
	with("overexposed, blurred", 2, func(s *camera.Scene) { s.Gain, s.Blur = 3, 4 })
	with("dim", 0.6, func(s *camera.Scene) { s.Gain = 0.15 })
	with("rolling 0.3", 0.5, func(s *camera.Scene) { s.Rolling = 0.3 })
	with("rolling 0.8", 0.6, func(s *camera.Scene) { s.Rolling = 0.8 })
	with("rolling 0.8 off centre", 2, func(s *camera.Scene) { s.Rolling, s.OffCentre = 0.8, 0.25 })
	return out
}

// motion are conditions of time and of rows.
func motion() []condition {
	var out []condition
	with := func(name string, worst float64, change func(s *camera.Scene)) {
		out = append(out, condition{name, change, worst})
	}
	with("frames missing 5 %", 0.5, func(s *camera.Scene) { s.DropShare = 0.05 })
	with("phone: 12 % missing, jitter 4 ms", 3, func(s *camera.Scene) { s.DropShare, s.JitterMS = 0.12, 4 })
	with("stamp jitter 3 ms", 3, func(s *camera.Scene) { s.JitterMS = 3 })
	with("display jitter 4 ms", 5, func(s *camera.Scene) { s.DisplayMS = 4 })
	with("8 s", 0.6, func(s *camera.Scene) { s.LengthS = 8 })
	with("30 s", 0.5, func(s *camera.Scene) { s.LengthS = 30 })
	with("60 s drift 50 ppm 24p", 0.5, func(s *camera.Scene) { s.LengthS, s.FPS, s.DriftPPM = 60, 24, 50 })
	with("60 s drift 1000 ppm", 0.5, func(s *camera.Scene) { s.LengthS, s.DriftPPM = 60, 1000 })
	with("20 s drift 200 ppm", 0.5, func(s *camera.Scene) { s.LengthS, s.DriftPPM = 20, 200 })
	with("20 s drift -1000 ppm", 0.5, func(s *camera.Scene) { s.LengthS, s.DriftPPM = 20, -1000 })
	for _, o := range []float64{-2000, -1100, 700, 2000} {
		with(fmt.Sprintf("offset %g", o), 0.5, func(s *camera.Scene) { s.OffsetMS = o })
	}
	for _, r := range []float64{25, 30000.0 / 1001} {
		for _, scan := range []recording.Scan{recording.TopFirst, recording.BottomFirst} {
			with(fmt.Sprintf("interlaced %.2f %s", r, scan), 0.5, func(s *camera.Scene) { s.FPS, s.Scan = r, scan })
		}
		with(fmt.Sprintf("interlaced %.2f said reversed", r), 0.5, func(s *camera.Scene) {
			s.FPS, s.Scan, s.SaidScan = r, recording.BottomFirst, recording.TopFirst
		})
		with(fmt.Sprintf("interlaced %.2f exposure 1", r), 0.5, func(s *camera.Scene) {
			s.FPS, s.Scan, s.Exposure = r, recording.TopFirst, 1
		})
		with(fmt.Sprintf("interlaced %.2f exposure 0.05", r), 1e3/r/8, func(s *camera.Scene) {
			s.FPS, s.Scan, s.Exposure = r, recording.TopFirst, 0.05
		})
		with(fmt.Sprintf("psf %.2f", r), 0.5, func(s *camera.Scene) { s.FPS, s.SaidScan = r, recording.TopFirst })
	}
	with("missing and extra events", 0.5, func(s *camera.Scene) {
		s.MissFlash, s.MissBeep, s.ExtraFlash = []int{3, 8}, []int{5, 11}, []float64{7.777}
	})
	with("hard: 24p exposure 0.05 snr 0 rt60 1 shake", 1e3/24/8, func(s *camera.Scene) {
		s.FPS, s.Exposure, s.SNR, s.RT60, s.Shake = 24, 0.05, 0, 1, 0.004
	})
	with("converted 25 to 29.97", 8, func(s *camera.Scene) { s.CadenceFPS = 25 })
	with("converted 24 to 60", 8, func(s *camera.Scene) { s.FPS, s.CadenceFPS = 60, 24 })
	with("locked display", 12, func(s *camera.Scene) { s.Locked = true })
	return out
}

// some are the conditions that every run of the tests looks at.
var some = []string{
	"rate 24 exposure 0.05", "rate 29.97 exposure 0.5", "sound pre-echo in silence", "sound snr -6", "room rt60 2 drr -6", "overexposed",
	"auto exposure 0.1", "rolling 0.8 off centre", "20 s drift -1000 ppm", "offset -2000", "offset 2000",
	"interlaced 25.00 said reversed", "psf 29.97", "converted 25 to 29.97",
}

// naive is what a person reads who takes the first frame that is half lit, mean
// over the events, from the brightest picture on.
func naive(s camera.Scene, r *recording.Recording, f *recording.Finding) float64 {
	v := r.Video
	total := make([]float64, len(v.PTS))
	for k := range total {
		for _, y := range v.Picture(k) {
			total[k] += float64(y)
		}
	}
	sum, n := 0.0, 0
	for _, e := range f.Events {
		flash := e.AtS + f.OffsetMS/1e3
		low, high := math.Inf(1), 0.0
		for k, t := range v.PTS {
			if math.Abs(t-flash) < 0.12 {
				low, high = min(low, total[k]), max(high, total[k])
			}
		}
		for k, t := range v.PTS {
			if math.Abs(t-flash) < 0.12 && total[k] > (low+high)/2 {
				sum += 1e3 * (t - e.AtS)
				n++
				break
			}
		}
	}
	return sum / float64(max(n, 1))
}

// A row is what a condition gave.
type row struct {
	errors, us, naive, drifts []float64
	covered, driftCovered     int
	refused                   []recording.RefusalCode
	flags                     map[recording.Flag]int
}

func (c condition) run(n int) row {
	out := row{flags: map[recording.Flag]int{}}
	for trial := range n {
		seed := uint64(trial)*7919 + uint64(len(c.name))
		s := camera.New(seed, 30000.0/1001, math.Round(800*math.Sin(float64(seed)))/2)
		c.change(&s)
		r := s.Film()
		res := clip.Analyse(r, clip.Options{})
		if res.Refused != nil {
			out.refused = append(out.refused, res.Refused.Code)
			continue
		}
		f := res.Finding
		e := f.OffsetMS - s.OffsetMS
		if len(s.Steps) == 0 && s.DriftPPM != 0 { // the offset is that of the middle of the events used
			middle := (f.Events[0].AtS + f.Events[len(f.Events)-1].AtS) / 2
			e -= s.DriftPPM * 1e-3 * (middle - s.LengthS/2)
		}
		if s.CadenceFPS > 0 { // a frame waits for the next of the other rate: up to one, or by turns half of one
			e -= map[float64]float64{25: 500 / s.FPS, 24: 250 / s.FPS}[s.CadenceFPS]
		}
		out.errors = append(out.errors, e)
		out.us = append(out.us, f.UMS)
		if math.Abs(e) <= 2*f.UMS {
			out.covered++
		}
		out.naive = append(out.naive, naive(s, r, f)-s.OffsetMS)
		if f.DriftPPM != nil {
			out.drifts = append(out.drifts, *f.DriftPPM-s.DriftPPM)
			if math.Abs(*f.DriftPPM-s.DriftPPM) <= 2**f.DriftUPPM {
				out.driftCovered++
			}
		}
		for _, flag := range res.Flags {
			out.flags[flag]++
		}
	}
	return out
}

func meanSD(xs []float64) (m, sd, worst float64) {
	for _, x := range xs {
		m += x / float64(len(xs))
		worst = max(worst, math.Abs(x))
	}
	for _, x := range xs {
		sd += (x - m) * (x - m) / float64(max(len(xs)-1, 1))
	}
	return m, math.Sqrt(sd), worst
}

func TestStudy(t *testing.T) {
	t.Parallel()
	t.Logf("| %-42s | n | ref | bias | sd | worst | mean u | naive sd | worst | drift worst | flags |", "condition")
	total, covered, drifts, driftsCovered := 0, 0, 0, 0
	for _, c := range conditions() {
		if !strings.Contains(c.name, *only) || *trials == 0 && !slices.Contains(some, c.name) {
			continue
		}
		r := c.run(max(*trials, 1))
		m, sd, worst := meanSD(r.errors)
		u, _, _ := meanSD(r.us)
		_, nsd, nworst := meanSD(r.naive)
		_, _, dworst := meanSD(r.drifts)
		total += len(r.errors)
		covered += r.covered
		drifts += len(r.drifts)
		driftsCovered += r.driftCovered
		t.Logf("| %-42s | %d | %v | %.2f | %.2f | %.2f | %.2f | %.2f | %.2f | %.0f | %v |",
			c.name, len(r.errors), r.refused, m, sd, worst, u, nsd, nworst, dworst, r.flags)
		if worst > c.worst || len(r.refused) > 0 {
			t.Errorf("%s: worst %.2f, may be %.2f, refused %v", c.name, worst, c.worst, r.refused)
		}
	}
	t.Logf("offsets covered %d of %d, drifts %d of %d", covered, total, driftsCovered, drifts)
	// 93 % of 20 or more; of fewer all but one.
	if covered < total-1 && float64(covered) < 0.93*float64(total) {
		t.Errorf("the intervals hold the truth in %d of %d, want 93 %%", covered, total)
	}
}

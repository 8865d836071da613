package tracks_test

import (
	"math"
	"strings"
	"testing"

	"delaybook/domain/recording"
	"delaybook/domain/tracks"
	"delaybook/domain/tracks/tracktest"
)

func TestCompareInARoom(t *testing.T) {
	t.Parallel()
	scenes := map[string]scene{
		"speech":         {source: sources[0], seconds: 6, rt60: 0.6, snr: 0, camera: true},
		"music":          {source: sources[1], seconds: 10, rt60: 0.6, snr: 0, camera: true},
		"claps":          {source: sources[2], seconds: 6, rt60: 1.2, direct: -6, snr: 10},
		"turned over":    {source: sources[0], seconds: 6, rt60: 0.3, direct: 3, snr: 10, upsideDown: true},
		"20 ppm":         {source: sources[0], seconds: 20, snr: 0, camera: true, ppm: 20},
		"1000 ppm":       {source: sources[0], seconds: 10, rt60: 0.6, snr: 0, camera: true, ppm: -1000},
		"short 1000 ppm": {source: sources[2], seconds: 5, snr: 10, ppm: 1000},
	}
	for name, s := range scenes {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			const delay = -0.3210123
			mic, desk := s.hear(seeded(5), delay)
			got := tracks.Compare(mic, desk)
			if got.Refused != nil {
				t.Fatalf("refused: %+v", got.Refused)
			}
			// The microphone's filter is 0.06 ms late by itself, as Butterworth's group delay says.
			away := got.OffsetMS - 1000*delay
			if math.Abs(away) > 0.1 || math.Abs(away) > 2*got.UMS {
				t.Errorf("off by %.4f ms, said u %.4f", away, got.UMS)
			}
			if got.Inverted != s.upsideDown || got.Said != "second track late 321.0 ms" && got.Said != "second track late 320.9 ms" {
				t.Errorf("inverted %v, said %q", got.Inverted, got.Said)
			}
			checkDrift(t, &got, s)
			checkWhole(t, &got)
		})
	}
}

func checkDrift(t *testing.T, got *recording.Result, s scene) {
	t.Helper()
	if (got.DriftPPM == nil) != (s.seconds < 8) {
		t.Fatalf("drift of %d s: %v", s.seconds, got.DriftPPM)
	}
	if got.DriftPPM != nil && math.Abs(*got.DriftPPM-s.ppm) > max(0.2, 3**got.DriftUPPM) {
		t.Errorf("drift %.3f ppm, want %g", *got.DriftPPM, s.ppm)
	}
	flags := ""
	for _, f := range got.Flags {
		flags += " " + string(f)
	}
	if strings.Contains(flags, "rate-error") != (math.Abs(s.ppm) == 1000 && s.seconds >= 8) || strings.Contains(flags, " drift") != (s.ppm == 20) {
		t.Errorf("flags%s for %g ppm", flags, s.ppm)
	}
}

// checkWhole holds what every measured result has.
func checkWhole(t *testing.T, got *recording.Result) {
	t.Helper()
	used := 0
	for _, e := range got.Events {
		if e.Used {
			used++
		}
		if math.IsNaN(e.OffsetMS) || e.Confidence < 0 || e.Confidence > 1 || e.Used != (e.Confidence > 0) {
			t.Errorf("event %+v", e)
		}
	}
	if used < 3 || len(got.Segments) != 1 || len(got.Warnings) != len(got.Flags) || got.First == nil {
		t.Errorf("%d windows used, %d segments, %d warnings of %d flags", used, len(got.Segments), len(got.Warnings), len(got.Flags))
	}
	if e := got.Evidence; e == nil || len(e.Sound.Values) != len(e.Second.Values) || len(e.Sound.Values) < 100 {
		t.Errorf("evidence %+v", got.Evidence)
	}
}

func TestCompareTracksOfDifferentRatesAndStarts(t *testing.T) {
	t.Parallel()
	x := tracktest.Speech(seeded(2), 10*rate)
	first, second := track(0, x), track(1, x)
	// Every third sample, after a filter that leaves room for it: 16000 samples a second.
	narrow := tracktest.Samples(tracktest.CameraMic(x))
	var third []float32
	for i := 0; i < len(narrow); i += 3 {
		third = append(third, narrow[i])
	}
	first.Sound.Rate, first.Sound.Channels = rate/3, [][]float32{third}
	first.Sound.StartS = 0.25 // it claims to begin a quarter second after the second
	first.StampStepS = 1e-3
	got := tracks.Compare(first, second)
	if got.Refused != nil {
		t.Fatalf("refused: %+v", got.Refused)
	}
	if away := got.OffsetMS - 250; math.Abs(away) > 0.1 || got.Said != "first track late 250.1 ms" {
		t.Errorf("off by %.4f ms, said %q", away, got.Said)
	}
	// A start rounded to 1 ms is known to 1/sqrt(12) ms (JCGM 100:2008, 4.3.7).
	if want := math.Hypot(0.05, 1/math.Sqrt(12)); math.Abs(got.UMS-want) > 0.01 || got.Flags[0] != recording.FlagStampStep {
		t.Errorf("u %.4f, want %.4f; flags %v", got.UMS, want, got.Flags)
	}
}

func TestSwappedTracksSwapTheSign(t *testing.T) {
	t.Parallel()
	s := scene{source: sources[0], seconds: 6, snr: 10}
	mic, desk := s.hear(seeded(1), 0.0123)
	there, back := tracks.Compare(mic, desk), tracks.Compare(desk, mic)
	if there.Refused != nil || back.Refused != nil || math.Abs(there.OffsetMS+back.OffsetMS) > 0.01 {
		t.Fatalf("%+v, %+v", there.Finding, back.Finding)
	}
	if there.Said != "first track late 12.3 ms" || back.Said != "second track late 12.3 ms" {
		t.Errorf("said %q and %q", there.Said, back.Said)
	}
}

func BenchmarkCompare(b *testing.B) {
	for name, seconds := range map[string]int{"20s": 20, "60s": 60} {
		s := scene{source: sources[0], seconds: seconds, rt60: 0.6, camera: true}
		mic, desk := s.hear(seeded(1), 0.2)
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if got := tracks.Compare(mic, desk); got.Refused != nil {
					b.Fatal(got.Refused)
				}
			}
		})
	}
}

package clip_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"delaybook/domain/clip"
	"delaybook/domain/clip/camera"
	"delaybook/domain/recording"
)

func TestFlags(t *testing.T) {
	t.Parallel()
	easy := camera.New(8, 30000.0/1001, 60)
	easy.LengthS = 12
	for _, c := range []struct {
		flag   recording.Flag
		change func(s *camera.Scene)
	}{
		{recording.FlagVFR, func(s *camera.Scene) { s.DropShare = 0.1 }},
		{recording.FlagDrift, func(s *camera.Scene) { s.LengthS, s.DriftPPM = 24, 300 }},
		{recording.FlagRateError, func(s *camera.Scene) { s.LengthS, s.DriftPPM = 24, 1000 }},
		{recording.FlagCardRate, func(s *camera.Scene) { s.CardPPM = -1000 }},
		{recording.FlagUnmatched, func(s *camera.Scene) { s.MissFlash = []int{3, 6} }},
		{recording.FlagClipped, func(s *camera.Scene) { s.Gain = 4 }},
		{recording.FlagFrameLocked, func(s *camera.Scene) { s.Locked = true }},
		{recording.FlagShortExposure, func(s *camera.Scene) { s.Exposure = 0.04 }},
		{recording.FlagLowSNR, func(s *camera.Scene) { s.SNR = -9 }},
		{recording.FlagRolling, func(s *camera.Scene) { s.Rolling, s.OffCentre, s.Area = 0.8, -0.25, 0.15 }},
		{recording.FlagCadence, func(s *camera.Scene) { s.CadenceFPS = 25 }},
		{recording.FlagSoftOnset, func(s *camera.Scene) { s.EatenMS, s.RT60 = 25, 0 }},
		{recording.FlagFieldOrder, func(s *camera.Scene) { s.Scan, s.SaidScan = recording.BottomFirst, recording.TopFirst }},
		{recording.FlagInterlaced, func(s *camera.Scene) { s.Scan = recording.TopFirst }},
		{recording.FlagAutoExposure, func(s *camera.Scene) { s.Pumping = 0.15 }},
		{recording.FlagUnstable, func(s *camera.Scene) {
			s.LengthS, s.Steps = 20, []camera.Step{{FromS: 10, ByMS: 200}}
		}},
	} {
		t.Run(string(c.flag), func(t *testing.T) {
			t.Parallel()
			s := easy
			c.change(&s)
			got := clip.Analyse(s.Film(), clip.Options{})
			if got.Refused != nil {
				t.Fatalf("refused: %+v", *got.Refused)
			}
			if !slices.Contains(got.Flags, c.flag) {
				t.Errorf("flags %v, want %s among them", got.Flags, c.flag)
			}
			words := slices.IndexFunc(got.Warnings, func(w recording.Warning) bool { return w.Code == c.flag })
			if words < 0 || got.Warnings[words].Text == "" || got.Warnings[words].Try == "" {
				t.Errorf("no words for %s in %+v", c.flag, got.Warnings)
			}
		})
	}
	t.Run("none", func(t *testing.T) {
		t.Parallel()
		if got := clip.Analyse(easy.Film(), clip.Options{}); len(got.Flags) != 0 {
			t.Errorf("flags %v, want none", got.Flags)
		}
	})
}

// TestADigitalFileReadsBackExactly has no camera: the target is 0.1 ms.
func TestADigitalFileReadsBackExactly(t *testing.T) {
	t.Parallel()
	for _, r := range rates {
		s := camera.New(4, r.fps, 0)
		s.LengthS, s.Digital, s.SNR, s.RT60, s.Area = 10, true, 200, 0, 0.35
		got := clip.Analyse(s.Film(), clip.Options{})
		if got.Refused != nil {
			t.Errorf("%s: refused: %+v", r.name, *got.Refused)
			continue
		}
		if math.Abs(got.OffsetMS) > 0.1 || got.UMS > 0.05 {
			t.Errorf("%s: %.3f ms, u %.3f, want 0 within 0.1 and a small u", r.name, got.OffsetMS, got.UMS)
		}
	}
}

func TestOneFrameFlashWithAToneAsLong(t *testing.T) {
	t.Parallel()
	// EBU R37-2007: a white flash of one frame with 1 kHz of the same duration.
	s := camera.New(6, 25, -35)
	s.LengthS, s.FlashS, s.ToneHz, s.ToneS = 29, 0.04, 1000, 0.04
	s.Events = even(5.013, s.LengthS)
	got := clip.Analyse(s.Film(), clip.Options{})
	if got.Refused != nil {
		t.Fatalf("refused: %+v", *got.Refused)
	}
	if math.Abs(got.OffsetMS+35) > 2*got.UMS || got.UMS > 5 || math.Abs(*got.ToneHz-1000) > 2 {
		t.Errorf("%s, u %.2f, tone %.1f Hz; want late 35 ms at 1000 Hz", got.Said, got.UMS, *got.ToneHz)
	}
	s.Events = even(1, s.LengthS)
	if got := clip.Analyse(s.Film(), clip.Options{}); got.Refused == nil || got.Refused.Code != recording.Ambiguous {
		t.Errorf("every second: %+v, want ambiguous", got.Refused)
	}
}

func TestStretches(t *testing.T) {
	t.Parallel()
	s := camera.New(12, 25, 40)
	s.LengthS, s.Steps = 26, []camera.Step{{FromS: 8, ByMS: 120}, {FromS: 17, ByMS: -95}}
	want := []float64{40, 160, 65}
	for _, o := range []clip.Options{{}, {Segments: []clip.Span{{FromS: 0, ToS: 7.7}, {FromS: 7.9, ToS: 16.9}, {FromS: 17, ToS: 30}}}} {
		got := clip.Analyse(s.Film(), o)
		if len(got.Segments) != 3 {
			t.Errorf("%d stretches, want 3 (%+v)", len(got.Segments), got.Refused)
			continue
		}
		if stepped := slices.Contains(got.Flags, recording.FlagUnstable); stepped != (o.Segments == nil) || slices.Contains(got.Flags, recording.FlagUnmatched) {
			t.Errorf("flags %v with stretches %v, want unstable only if they were found", got.Flags, o.Segments)
		}
		for i, f := range got.Segments {
			if math.Abs(f.OffsetMS-want[i]) > 2*f.UMS {
				t.Errorf("stretch %d from %.1f to %.1f s: %.2f ms, want %.0f", i, f.FromS, f.ToS, f.OffsetMS, want[i])
			}
		}
	}
}

func TestSmallStep(t *testing.T) {
	t.Parallel()
	s := camera.New(12, 50, 40)
	s.LengthS, s.Steps = 20, []camera.Step{{FromS: 10, ByMS: 20}}
	got := clip.Analyse(s.Film(), clip.Options{})
	if len(got.Segments) != 2 || math.Abs(got.Segments[1].OffsetMS-60) > 1 || math.Abs(got.OffsetMS-40) > 1 {
		t.Errorf("got %d stretches, %s; want 40 and 60 ms", len(got.Segments), got.Said)
	}
}

func TestTwoMicrophones(t *testing.T) {
	t.Parallel()
	s := camera.New(14, 25, 100)
	s.Channels = []camera.Ear{{Gain: 1}, {Gain: -0.5, LateMS: 8.7}, {Gain: 1, Stream: 1}, {Gain: 0, Stream: 1}}
	got := clip.Analyse(s.Film(), clip.Options{})
	if len(got.Segments) != 2 {
		t.Fatalf("%d findings, want 2", len(got.Segments))
	}
	// 8.7 ms, three metres of air, later sound: the offset is that much smaller.
	for i, want := range []float64{100, 91.3} {
		f := got.Segments[i]
		if math.Abs(f.OffsetMS-want) > 1 || f.Sound.Channel != i {
			t.Errorf("finding %d: %.2f ms on %+v, want %.1f on channel %d", i, f.OffsetMS, f.Sound, want, i)
		}
	}
}

func TestOnlyTheBeginning(t *testing.T) {
	t.Parallel()
	s := camera.New(15, 25, 100)
	s.LengthS = 24
	got := clip.Analyse(s.Film(), clip.Options{MaxS: 12})
	if got.Refused != nil || got.ToS > 12.1 || !slices.Contains(got.Flags, recording.FlagCutShort) {
		t.Errorf("to %.1f s, flags %v; want to 12 s and cut-short", got.ToS, got.Flags)
	}
}

func TestWhatIsPublished(t *testing.T) {
	t.Parallel()
	s := camera.New(16, 30000.0/1001, 166.9)
	r := s.Film()
	got := clip.Analyse(r, clip.Options{})
	if got.Refused != nil || !strings.HasPrefix(got.Said, "sound early 16") || !strings.HasSuffix(got.Said, "(5.0 frames)") {
		t.Fatalf("said %q, want sound early 16x.x ms (5.0 frames)", got.Said)
	}
	if got.This95 != [2]float64{got.OffsetMS - 2*got.UMS, got.OffsetMS + 2*got.UMS} || got.UMS < 0.5 {
		t.Errorf("interval %v about %.2f with u %.2f, want 2u, and u of 0.5 or more", got.This95, got.OffsetMS, got.UMS)
	}
	e := got.Evidence
	if e == nil || e.Light == nil || e.Sound == nil || len(e.Light.Values)+len(e.Sound.Values) > 7000 {
		t.Fatalf("evidence %+v, want two curves of at most 7 kB", e)
	}
	first := got.Events[3]
	at := func(s *recording.Series, t float64) byte { return s.Values[int((t-e.FromS)/s.StepS)] }
	if at(e.Sound, first.AtS+0.03) < 100 || at(e.Sound, first.AtS-0.1) > 60 {
		t.Error("the curve of the sound does not show the beep")
	}
	if flash := first.AtS + first.OffsetMS/1e3; at(e.Light, flash+0.08) < 200 || at(e.Light, flash-0.1) > 60 {
		t.Error("the curve of the light does not show the flash")
	}
	_, flashes := s.Truth()
	if got.FlashesSeen != len(flashes) {
		t.Errorf("%d flashes seen of %d", got.FlashesSeen, len(flashes))
	}
}

func TestTheClockOfTheCard(t *testing.T) {
	t.Parallel()
	for _, want := range []float64{-1000, 0, 1000} {
		s := camera.New(17, 25, 20)
		s.CardPPM = want
		got := clip.Analyse(s.Film(), clip.Options{})
		// 0.05 ms of scatter over 14 s is some 5 ppm.
		if got.CardPPM == nil || math.Abs(*got.CardPPM-want) > 15 {
			t.Errorf("card %v ppm, want %v", got.CardPPM, want)
		}
	}
}

// A step by less than a frame in the middle of few phases looks like a drift of 800 ppm to a line.
func TestAStepIsNoDrift(t *testing.T) {
	t.Parallel()
	s := camera.New(34, 30000.0/1001, 100)
	s.LengthS, s.Steps = 28, []camera.Step{{FromS: 14, ByMS: 15}}
	got := clip.Analyse(s.Film(), clip.Options{})
	if len(got.Segments) != 2 || math.Abs(got.Segments[1].OffsetMS-115) > 1 || math.Abs(got.OffsetMS-100) > 1 {
		t.Errorf("got %d stretches, %s; want 100 and 115 ms", len(got.Segments), got.Said)
	}
}

// Coding leaves copies of frames unlike each other; those that are partly lit still tell.
func TestCadenceOfCodedPictures(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ from, to float64 }{{25, 30000.0 / 1001}, {24, 60}} {
		s := camera.New(41, c.to, 100)
		s.LengthS, s.CadenceFPS = 20, c.from
		r := s.Film()
		rng := rand.New(rand.NewPCG(5, 6))
		for i := range r.Video.Luma {
			r.Video.Luma[i] += byte(rng.IntN(5))
		}
		if got := clip.Analyse(r, clip.Options{}); !slices.Contains(got.Flags, recording.FlagCadence) || slices.Contains(got.Flags, recording.FlagDrift) {
			t.Errorf("%g in %.2f: flags %v", c.from, c.to, got.Flags)
		}
	}
}

// A flash three times too bright whose light falls nowhere else: the exposure seems a third, and the onset a third of it
// early. Pixels half on its rim are mixed after the ceiling and are no halo.
func TestOverexposedWithoutHalo(t *testing.T) {
	t.Parallel()
	s := camera.New(51, 30000.0/1001, 100)
	s.Gain, s.Bare = 3, true
	got := clip.Analyse(s.Film(), clip.Options{})
	if got.Refused != nil || !slices.Contains(got.Flags, recording.FlagClipped) {
		t.Fatalf("flags %v, refused %+v", got.Flags, got.Refused)
	}
	if wrong := math.Abs(got.OffsetMS - 100); wrong > 2*got.UMS {
		t.Errorf("wrong by %.2f ms with u %.2f", wrong, got.UMS)
	}
}

// A gate that lets 35 ms of 60 through tells by the length, and the interval says how early the onset may have been.
func TestAnEatenToneIsDoubted(t *testing.T) {
	t.Parallel()
	s := camera.New(61, 30000.0/1001, 100)
	s.RT60, s.ToneS = 0, 0.035
	late := camera.New(61, 30000.0/1001, 75)
	late.RT60 = 0 // its flashes come 75 ms after what is left of a tone that began 25 ms before
	r := s.Film()
	r.Video = late.Film().Video
	got := clip.Analyse(r, clip.Options{})
	if got.Refused != nil || !slices.Contains(got.Flags, recording.FlagSoftOnset) || math.Abs(got.OffsetMS-100) > 2*got.UMS {
		t.Errorf("flags %v, refused %+v, %.2f ms with u %.2f", got.Flags, got.Refused, got.OffsetMS, got.UMS)
	}
}

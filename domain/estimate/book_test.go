package estimate_test

import (
	"math"
	"testing"
	"time"

	"delaybook/domain/estimate"
	"delaybook/domain/timebase"
)

func rate(tb testing.TB, text string) timebase.Rate {
	tb.Helper()
	r, err := timebase.ParseRate(text)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

func ptr(x float64) *float64 { return &x }

// evening is when the measurements of the tests were taken.
var evening = time.Date(2026, 11, 20, 18, 0, 0, 0, time.UTC)

const frame = 40.0 // ms at 25 frames per second, the rate of the tests

// hall is a rig with two cameras of one model, the second in another mode, two
// microphones of one model, and a switcher with a sound delay; its programme is
// seen as it is, its screen after a scaler.
func hall(tb testing.TB, timing estimate.Timing) estimate.Book {
	tb.Helper()
	r25, r50 := rate(tb, "25"), rate(tb, "50")
	stage := func(device, mode, unit string, timing estimate.Timing) estimate.Stage {
		return estimate.Stage{Device: device, Mode: mode, Unit: unit, Timing: timing}
	}
	delayed := stage("switcher", "m", "", "")
	delayed.Controls = []estimate.StageControl{{Control: "mic-delay", Name: "mic-1-delay"}}
	return estimate.Book{
		Devices: []estimate.Device{
			{Slug: "camera", Kind: "camera", Modes: []estimate.Mode{{Slug: "p25", FrameRate: r25}, {Slug: "p50", FrameRate: r50}}},
			{Slug: "mic", Kind: "microphone", Modes: []estimate.Mode{{Slug: "m"}}},
			{Slug: "wire", Kind: "microphone", Modes: []estimate.Mode{{Slug: "m", Direct: []estimate.Signal{estimate.Sound}}}},
			{Slug: "scaler", Kind: "scaler", Modes: []estimate.Mode{{Slug: "m", FrameRate: r25}}},
			{
				Slug: "switcher", Kind: "video switcher", Modes: []estimate.Mode{{Slug: "m", FrameRate: r25, Direct: []estimate.Signal{estimate.Sound}}},
				Controls: []estimate.Control{{Slug: "mic-delay", Signal: estimate.Sound, Unit: estimate.FrameUnit}},
			},
		},
		Rigs: []estimate.Rig{{
			ID: "hall", FrameRate: r25,
			Chains: []estimate.Chain{
				{Slug: "cam-1", Signal: estimate.Picture, Stages: []estimate.Stage{stage("camera", "p25", "C-1", timing), stage("switcher", "m", "S-1", estimate.HouseTiming)}},
				{Slug: "cam-2", Signal: estimate.Picture, Stages: []estimate.Stage{stage("camera", "p50", "C-2", timing), stage("switcher", "m", "S-1", estimate.HouseTiming)}},
				{Slug: "mic-1", Signal: estimate.Sound, Stages: []estimate.Stage{stage("mic", "m", "M-1", ""), delayed}},
				{Slug: "mic-2", Signal: estimate.Sound, Stages: []estimate.Stage{stage("mic", "m", "M-2", ""), stage("switcher", "m", "", "")}},
				{Slug: "wire", Signal: estimate.Sound, Stages: []estimate.Stage{stage("wire", "m", "", "")}},
			},
			Destinations: []estimate.Destination{
				{Slug: "programme"},
				{Slug: "screen", Picture: []estimate.Stage{stage("scaler", "m", "", estimate.HouseTiming)}},
			},
		}},
	}
}

// clip is a measurement by analysed recording from a named card source.
func clip(id, picture, sound, powerUp string, ms, u float64) estimate.Measurement {
	m := estimate.Measurement{
		ID: id, Rig: "hall", First: picture, Second: sound, Method: estimate.Clip, CardSource: "tablet", PowerUp: powerUp,
		TakenAt: evening, AirC: ptr(20), Readings: []estimate.Reading{{OffsetMS: ptr(ms), UMS: ptr(u)}},
	}
	if sound == "mic-1" || picture == "mic-1" {
		m.Settings = []estimate.Setting{{Control: "mic-1-delay"}}
	}
	return m
}

// clap is a measurement by eye of a hand clap, in frames, heard early.
func clap(id, picture, sound, powerUp string, frames ...float64) estimate.Measurement {
	m := clip(id, picture, sound, powerUp, 0, 1)
	m.Method, m.CardSource, m.Readings = estimate.Clap, "", nil
	for _, f := range frames {
		r := estimate.Reading{Frames: ptr(math.Abs(f)), Heard: estimate.Early}
		switch {
		case f < 0:
			r.Heard = estimate.Late
		case f == 0:
			r.Heard = estimate.InSync
		}
		m.Readings = append(m.Readings, r)
	}
	return m
}

func solve(tb testing.TB, b estimate.Book) *estimate.Solution {
	tb.Helper()
	s, err := estimate.Solve(b)
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

func offset(tb testing.TB, s *estimate.Solution, first, second string) estimate.Offset {
	tb.Helper()
	o, err := s.Offset(estimate.OffsetQuery{Rig: "hall", First: first, Second: second})
	if err != nil {
		tb.Fatal(err)
	}
	return o
}

func near(tb testing.TB, what string, got, want, tolerance float64) {
	tb.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		tb.Errorf("%s = %.15g, want %.15g within %g", what, got, want, tolerance)
	}
}

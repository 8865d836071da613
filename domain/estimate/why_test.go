package estimate_test

import (
	"strings"
	"testing"

	"delaybook/domain/estimate"
)

// The sentence names what keeps measurements apart, and what would help.
func TestWhySaysWhatKeepsItApart(t *testing.T) {
	t.Parallel()
	measured := func(timing estimate.Timing, ms ...estimate.Measurement) estimate.Book {
		b := hall(t, timing)
		b.Measurements = ms
		return b
	}
	exact := func(id, first, second, powerUp string) estimate.Measurement {
		m := clip(id, first, second, powerUp, 80, 0.1)
		m.Method, m.CardSource = estimate.Clap, ""
		return m
	}
	stated := measured(estimate.HouseTiming)
	for device, signal := range map[string]estimate.Signal{"camera": estimate.Picture, "switcher": estimate.Picture, "mic": estimate.Sound} {
		mode := "m"
		if device == "camera" {
			mode = "p25"
		}
		stated.Stated = append(stated.Stated, estimate.Stated{Device: device, Mode: mode, Signal: signal, ValueMS: 40, UMS: 1})
	}
	for name, c := range map[string]struct {
		b     estimate.Book
		basis estimate.Basis
		says  string
	}{
		"card":     {measured(estimate.HouseTiming, clip("m", "cam-1", "mic-2", "p", 80, 1)), estimate.BasisMeasured, "card's own offset"},
		"eye":      {measured(estimate.HouseTiming, clap("m", "cam-1", "mic-2", "p", 2)), estimate.BasisMeasured, "by eye of camera camera in cam-1 are whole frames"},
		"phase":    {measured(estimate.FreeTiming, exact("m", "cam-1", "mic-2", "p")), estimate.BasisMeasured, "The camera camera in cam-1 runs free"},
		"timing":   {measured("", exact("m", "cam-1", "mic-2", "p")), estimate.BasisMeasured, "not known whether the camera camera in cam-1 runs free"},
		"power-up": {measured(estimate.HouseTiming, exact("m", "cam-1", "mic-2", "p")), estimate.BasisMeasured, "one power-up"},
		"others": {
			measured(estimate.HouseTiming, exact("m", "cam-1", "wire", "p"), exact("n", "cam-2", "wire", "p"), exact("o", "cam-2", "mic-2", "p")),
			estimate.BasisPredicted, "other pairs",
		},
		"stated":  {stated, estimate.BasisStated, "stated values"},
		"unknown": {measured(estimate.HouseTiming), estimate.BasisUnknown, "the picture through camera (p25)"},
		"assumed": {measured(estimate.HouseTiming, exact("m", "cam-2", "mic-2", "p")), estimate.BasisAssumed, "from p50"},
	} {
		if o := offset(t, solve(t, c.b), "cam-1", "mic-2"); o.Basis != c.basis || !strings.Contains(o.Why, c.says) {
			t.Errorf("%s: basis %s, want %s: %q", name, o.Basis, c.basis, o.Why)
		}
	}
}

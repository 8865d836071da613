package estimate_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"delaybook/domain/estimate"
)

// Every refusal says where, what is wrong and what to send instead.
func TestRefusedMeasurements(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.HouseTiming)
	b.Measurements = []estimate.Measurement{clap("taken", "cam-1", "mic-2", "p", 2)}
	for path, change := range map[string]func(m *estimate.Measurement){
		"Rig":         func(m *estimate.Measurement) { m.Rig = "no" },
		"First":       func(m *estimate.Measurement) { m.First = "no" },
		"Second":      func(m *estimate.Measurement) { m.Second = m.First },
		"ReadAt":      func(m *estimate.Measurement) { m.ReadAt = "no" },
		"ID":          func(m *estimate.Measurement) { m.ID = "taken" },
		"Method":      func(m *estimate.Measurement) { m.Method = "guess" },
		"Eye":         func(m *estimate.Measurement) { m.Eye = "closed" },
		"PowerUp":     func(m *estimate.Measurement) { m.PowerUp = "" },
		"CardSource":  func(m *estimate.Measurement) { m.CardSource = "tablet" },
		"DistanceM":   func(m *estimate.Measurement) { m.DistanceM = ptr(math.NaN()) },
		"AirC":        func(m *estimate.Measurement) { m.AirC = ptr(-300) },
		"EventSDMS":   func(m *estimate.Measurement) { m.EventSDMS = -1 },
		"Readings":    func(m *estimate.Measurement) { m.Readings = nil },
		"Readings[0]": func(m *estimate.Measurement) { m.Readings[0].Frames = ptr(1.25) },
		"Settings":    func(m *estimate.Measurement) { m.Settings = nil },
		"Settings[0]": func(m *estimate.Measurement) { m.Settings[0].Control = "no" },
		"Settings[1]": func(m *estimate.Measurement) { m.Settings = append(m.Settings, m.Settings[0]) },
		"Readings[1]": func(m *estimate.Measurement) { m.Readings = append(m.Readings, estimate.Reading{Frames: ptr(2)}) },
		"Readings[2]": func(m *estimate.Measurement) {
			m.Readings = append(m.Readings, m.Readings[0], estimate.Reading{OffsetMS: ptr(math.Inf(1))})
		},
		"Readings[1] both": func(m *estimate.Measurement) {
			m.Readings = append(m.Readings, estimate.Reading{OffsetMS: ptr(1), Frames: ptr(1)})
		},
		"Readings[1] in sync": func(m *estimate.Measurement) {
			m.Readings = append(m.Readings, estimate.Reading{Frames: ptr(1), Heard: estimate.InSync})
		},
		"Readings one u": func(m *estimate.Measurement) {
			m.Readings = append(m.Readings, estimate.Reading{OffsetMS: ptr(1), UMS: ptr(1)})
		},
		"Readings[1] u of 0": func(m *estimate.Measurement) {
			m.Readings = append(m.Readings, estimate.Reading{OffsetMS: ptr(1), UMS: ptr(0)})
		},
		"Method for a picture": func(m *estimate.Measurement) { m.Method = estimate.Tracks },
	} {
		m := clap("new", "cam-1", "mic-1", "p", 2)
		change(&m)
		with := b
		with.Measurements = append(slices.Clone(b.Measurements), m)
		err := with.Check()
		var input *estimate.InputError
		if !errors.As(err, &input) || input.Detail == "" || input.Send == "" {
			t.Errorf("%s: %v", path, err)
			continue
		}
		field, _, _ := strings.Cut(path, " ")
		if input.Path != fmt.Sprintf("Measurements[%d].%s", len(b.Measurements), field) {
			t.Errorf("%s: path %s (%s)", path, input.Path, input.Detail)
		}
		if _, err := estimate.Solve(with); err == nil {
			t.Errorf("%s: the book was solved", path)
		}
	}
	b.Measurements = append(b.Measurements, clap("new", "cam-1", "mic-1", "p", 2))
	if err := b.Check(); err != nil {
		t.Errorf("a good measurement was refused: %v", err)
	}
}

func TestRefusedBooks(t *testing.T) {
	t.Parallel()
	for path, change := range map[string]func(b *estimate.Book){
		"Devices[5]":                                func(b *estimate.Book) { b.Devices = append(b.Devices, b.Devices[0]) },
		"Devices[0].Modes[2]":                       func(b *estimate.Book) { b.Devices[0].Modes = append(b.Devices[0].Modes, b.Devices[0].Modes[0]) },
		"Devices[0].Modes[0].Direct":                func(b *estimate.Book) { b.Devices[0].Modes[0].Direct = []estimate.Signal{"smell"} },
		"Devices[4].Controls[0].Unit":               func(b *estimate.Book) { b.Devices[4].Controls[0].Unit = "hours" },
		"Devices[4].Controls[0].EngagedMS":          func(b *estimate.Book) { b.Devices[4].Controls[0].EngagedMS = math.NaN() },
		"Rigs[1]":                                   func(b *estimate.Book) { b.Rigs = append(b.Rigs, b.Rigs[0]) },
		"Rigs[0].Chains[0]":                         func(b *estimate.Book) { b.Rigs[0].Chains[0].Slug = estimate.Live },
		"Rigs[0].Chains[0].Stages[0].Device":        func(b *estimate.Book) { b.Rigs[0].Chains[0].Stages[0].Device = "no" },
		"Rigs[0].Chains[0].Stages[0].Mode":          func(b *estimate.Book) { b.Rigs[0].Chains[0].Stages[0].Mode = "no" },
		"Rigs[0].Chains[0].Stages[0].Timing":        func(b *estimate.Book) { b.Rigs[0].Chains[0].Stages[0].Timing = "late" },
		"Rigs[0].Chains[2].AirM":                    func(b *estimate.Book) { b.Rigs[0].Chains[2].AirM = math.Inf(1) },
		"Rigs[0].Destinations[1]":                   func(b *estimate.Book) { b.Rigs[0].Destinations[1].Slug = "programme" },
		"Rigs[0].Destinations[1].Picture[0].Device": func(b *estimate.Book) { b.Rigs[0].Destinations[1].Picture[0].Device = "" },
		"Stated[0]": func(b *estimate.Book) {
			b.Stated = []estimate.Stated{{Device: "camera", Mode: "p25", Signal: estimate.Picture}}
		},
		"Stated[0].ValueMS": func(b *estimate.Book) {
			b.Stated = []estimate.Stated{{Device: "camera", Mode: "p25", Signal: estimate.Picture, ValueMS: math.NaN(), UMS: 1}}
		},
		"Stated[0].Difference": func(b *estimate.Book) {
			b.Stated = []estimate.Stated{{Device: "camera", Mode: "p25", Difference: &[2]estimate.Signal{"sound", "sound"}, UMS: 1}}
		},
		"CardSources[1]": func(b *estimate.Book) { b.CardSources = []estimate.CardSource{{Slug: "a"}, {Slug: "a"}} },
		"CardSources[0]": func(b *estimate.Book) { b.CardSources = []estimate.CardSource{{Slug: "a", UMS: -1}} },
		"Variances[0].Class": func(b *estimate.Book) {
			b.Variances = []estimate.Variance{{Class: "take.some", MS2: 1, PriorMS2: 1, NuPrior: 1}}
		},
		"Variances[0].MS2": func(b *estimate.Book) {
			b.Variances = []estimate.Variance{{Class: "take.free", PriorMS2: 1, NuPrior: 1}}
		},
		"Variances[0].PriorMS2": func(b *estimate.Book) { b.Variances = []estimate.Variance{{Class: "take.free", MS2: 1, NuPrior: 1}} },
		"Variances[0].NuPrior":  func(b *estimate.Book) { b.Variances = []estimate.Variance{{Class: "take.free", MS2: 1, PriorMS2: 1}} },
		"Variances[0].Phase": func(b *estimate.Book) {
			b.Variances = []estimate.Variance{{Class: "unit.x", MS2: 1, PriorMS2: 1, NuPrior: 1, Phase: "rejected-high"}}
		},
	} {
		b := hall(t, estimate.HouseTiming)
		change(&b)
		var input *estimate.InputError
		if err := b.Check(); !errors.As(err, &input) || input.Path != path || input.Detail == "" || input.Send == "" {
			t.Errorf("%s: %v", path, err)
		}
	}
	b := hall(t, estimate.HouseTiming)
	if err := b.Check(); err != nil {
		t.Errorf("a good book was refused: %v", err)
	}
}

func TestRefusedOffsetQueries(t *testing.T) {
	t.Parallel()
	s := solve(t, hall(t, estimate.HouseTiming))
	good := estimate.OffsetQuery{Rig: "hall", First: "cam-1", Second: "mic-1"}
	for path, change := range map[string]func(q *estimate.OffsetQuery){
		"Rig":         func(q *estimate.OffsetQuery) { q.Rig = "no" },
		"First":       func(q *estimate.OffsetQuery) { q.First, q.Second = q.Second, q.First },
		"Destination": func(q *estimate.OffsetQuery) { q.Destination = "no" },
		"Settings[0]": func(q *estimate.OffsetQuery) { q.Settings = []estimate.Setting{{Control: "no"}} },
		"Limit":       func(q *estimate.OffsetQuery) { q.Limit = &estimate.Limit{EarlyMS: -1} },
	} {
		q := good
		change(&q)
		var input *estimate.InputError
		if _, err := s.Offset(q); !errors.As(err, &input) || input.Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
}

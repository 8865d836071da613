package estimate_test

import (
	"slices"
	"testing"

	"delaybook/domain/estimate"
)

// What a candidate promises is what the measurement brings, at variances that
// are known.
func TestNextMeasurementsKeepTheirPromise(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.FreeTiming)
	b.Measurements = []estimate.Measurement{
		clip("a", "cam-1", "mic-1", "p1", 120, 1), clip("b", "cam-2", "mic-1", "p1", 100, 1), clip("c", "cam-1", "mic-2", "p2", 121, 1),
		clap("d", "cam-1", "wire", "p3", 3),
	}
	b.CardSources = []estimate.CardSource{{Slug: "tablet", UMS: 12}}
	b = known(t, b)
	s := solve(t, b)
	before := offset(t, s, "cam-1", "mic-1")
	next, err := s.NextMeasurements(estimate.OffsetQuery{Rig: "hall", First: "cam-1", Second: "mic-1"})
	if err != nil {
		t.Fatal(err)
	}
	var kinds []estimate.CandidateKind
	for _, c := range next {
		kinds = append(kinds, c.Kind)
		m := clip("new", c.First, c.Second, "q", 100, 1)
		if c.Method == estimate.Clap {
			m = clap("new", c.First, c.Second, "q", 2)
			m.Eye = estimate.BothSides
		}
		with := b
		with.Measurements = append(slices.Clone(b.Measurements), m)
		after := offset(t, solve(t, with), "cam-1", "mic-1")
		near(t, string(c.Kind)+": se", c.SEMS, after.Estimate.SEMS, 1e-6*after.Estimate.SEMS)
		half := (after.Next.Interval[1] - after.Next.Interval[0]) / 2
		// The shape of the law moves a little towards uniform or normal.
		near(t, string(c.Kind)+": next power-up", c.NextHalfWidthMS, half, 0.03*half)
		was := (before.Next.Interval[1] - before.Next.Interval[0]) / 2
		near(t, string(c.Kind)+": gain", c.GainPercent, 100*(1-c.NextHalfWidthMS/was), 1e-9)
		if c.GainPercent < 5 || c.Why == "" || !c.NewPowerUp {
			t.Errorf("%+v", c)
		}
	}
	if !slices.Contains(kinds, estimate.CandidateClap) {
		t.Errorf("a clap would find the card's own offset; candidates are %v", kinds)
	}
}

func TestNextMeasurementOfAnUnknownOffset(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.HouseTiming)
	next, err := solve(t, b).NextMeasurements(estimate.OffsetQuery{Rig: "hall", First: "cam-2", Second: "mic-1"})
	if err != nil || len(next) != 1 || next[0].First != "cam-2" || next[0].Second != "mic-1" || next[0].Destination != "programme" {
		t.Errorf("%+v, %v", next, err)
	}
	// What is known as well as the next power-up allows needs nothing.
	for range 4 {
		b.Measurements = append(b.Measurements, several(t).Measurements...)
		for i := range b.Measurements {
			b.Measurements[i].ID = string(rune('a' + i))
			b.Measurements[i].PowerUp = string(rune('a' + i))
			b.Measurements[i].CardSource, b.Measurements[i].Method = "", estimate.Clap
		}
	}
	next, err = solve(t, known(t, b)).NextMeasurements(estimate.OffsetQuery{Rig: "hall", First: "cam-1", Second: "mic-1"})
	if err != nil || len(next) != 0 {
		t.Errorf("%+v, %v", next, err)
	}
}

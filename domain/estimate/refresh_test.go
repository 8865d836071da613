package estimate_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"delaybook/domain/estimate"
)

// site is one component of 180 unknowns: 45 cameras and 45 microphones, each a
// model with one unit, in rigs of two and two that share them.
func site(tb testing.TB) estimate.Book {
	tb.Helper()
	const models, rigs = 45, 60
	random := rand.New(rand.NewPCG(21, 22))
	var b estimate.Book
	for i := range models {
		b.Devices = append(b.Devices,
			estimate.Device{Slug: fmt.Sprintf("cam%d", i), Kind: "camera", Modes: []estimate.Mode{{Slug: "m"}}},
			estimate.Device{Slug: fmt.Sprintf("mic%d", i), Kind: "microphone", Modes: []estimate.Mode{{Slug: "m"}}})
	}
	for i := range rigs {
		r := estimate.Rig{ID: fmt.Sprintf("rig%d", i), FrameRate: rate(tb, "25")}
		for k := range 2 {
			cam, mic := (i+k)%models, random.IntN(models)
			if k == 0 {
				mic = i % models
			}
			r.Chains = append(r.Chains,
				estimate.Chain{Slug: fmt.Sprintf("p%d", k), Signal: estimate.Picture, Stages: []estimate.Stage{
					{Device: fmt.Sprintf("cam%d", cam), Mode: "m", Unit: "1", Timing: estimate.FreeTiming},
				}},
				estimate.Chain{Slug: fmt.Sprintf("s%d", k), Signal: estimate.Sound, Stages: []estimate.Stage{
					{Device: fmt.Sprintf("mic%d", mic), Mode: "m", Unit: "1"},
				}})
		}
		b.Rigs = append(b.Rigs, r)
		for k, pair := range [][2]string{{"p0", "s0"}, {"p0", "s1"}, {"p1", "s0"}, {"p1", "s1"}} {
			m := clip(fmt.Sprintf("m%d-%d", i, k), pair[0], pair[1], fmt.Sprintf("p%d", k/2), 80+random.NormFloat64(), 1)
			m.Rig, m.Method, m.CardSource = r.ID, estimate.Clap, ""
			b.Measurements = append(b.Measurements, m)
		}
	}
	return b
}

// keep is the book as a server holds it: what does not change stays where it is.
func keep(b estimate.Book) estimate.Book {
	for _, r := range b.Rigs {
		b.KeptRigs = append(b.KeptRigs, &r)
	}
	for _, m := range b.Measurements {
		b.KeptMeasurements = append(b.KeptMeasurements, &m)
	}
	b.Rigs, b.Measurements = nil, nil
	return b
}

// BenchmarkRefreshRig solves a component of 180 unknowns again after one more
// measurement, at the variances in use, and answers the four pairs of its rig.
func BenchmarkRefreshRig(b *testing.B) {
	book := keep(site(b))
	cache := estimate.NewCache(100)
	k := 0
	for b.Loop() {
		k++
		m := *book.KeptMeasurements[0]
		m.Readings = []estimate.Reading{{OffsetMS: ptr(80 + float64(k%100)/100), UMS: ptr(1)}}
		book.KeptMeasurements[0] = &m
		s, err := estimate.SolveCached(book, cache)
		if err != nil {
			b.Fatal(err)
		}
		answer(b, s)
	}
}

// BenchmarkAnswerRig answers the four pairs of a rig in a component of 180
// unknowns that did not change.
func BenchmarkAnswerRig(b *testing.B) {
	s := solve(b, site(b))
	for b.Loop() {
		answer(b, s)
	}
}

func answer(tb testing.TB, s *estimate.Solution) {
	tb.Helper()
	for _, pair := range [][2]string{{"p0", "s0"}, {"p0", "s1"}, {"p1", "s0"}, {"p1", "s1"}} {
		o, err := s.Offset(estimate.OffsetQuery{Rig: "rig0", First: pair[0], Second: pair[1], Limit: &estimate.Limit{EarlyMS: 40, LateMS: 60}})
		if err != nil || o.Estimate == nil {
			tb.Fatalf("%+v, %v", o, err)
		}
	}
}

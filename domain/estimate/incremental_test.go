package estimate_test

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"delaybook/domain/estimate"
)

// A growing book is written to: its rigs and measurements stay where they are.
type growing struct {
	random *rand.Rand
	book   estimate.Book
	struck []*estimate.Measurement
	writes int
}

func newGrowing(tb testing.TB, random *rand.Rand) *growing {
	tb.Helper()
	return &growing{random: random, book: keep(randomBook(random, rate(tb, "25"), 4))}
}

// write does one thing that crews do: measure, strike, restore, revise a rig,
// change a device, or come to use other variances. It says which.
func (g *growing) write() string {
	g.writes++
	b := &g.book
	b.KeptMeasurements = slices.Clone(b.KeptMeasurements) // the last version keeps its own
	some := func(n int) int { return g.random.IntN(max(1, n)) }
	switch kind := g.random.IntN(14); {
	case kind < 2 && len(b.KeptMeasurements) > 0:
		m := *b.KeptMeasurements[some(len(b.KeptMeasurements))]
		m.ID, m.TakenAt = fmt.Sprintf("again%03d", g.writes), m.TakenAt.Add(time.Minute)
		b.KeptMeasurements = append(b.KeptMeasurements, &m)
		return "measure again"
	case kind < 5 || len(b.KeptMeasurements) == 0:
		m := randomMeasurement(g.random, b.KeptRigs[some(len(b.KeptRigs))], fmt.Sprintf("new%03d", g.writes))
		b.KeptMeasurements = append(b.KeptMeasurements, &m)
		return "measure"
	case kind < 7:
		i := some(len(b.KeptMeasurements))
		g.struck = append(g.struck, b.KeptMeasurements[i])
		b.KeptMeasurements = slices.Delete(b.KeptMeasurements, i, i+1)
		return "strike"
	case kind < 8 && len(g.struck) > 0:
		again := *g.struck[0]
		g.struck = g.struck[1:]
		b.KeptMeasurements = slices.Insert(b.KeptMeasurements, some(len(b.KeptMeasurements)), &again)
		return "restore"
	case kind < 9:
		revised := randomRig(g.random, b.KeptRigs[0].FrameRate, fmt.Sprintf("rig%d@%d", some(4), g.writes))
		revised.Slug = b.KeptRigs[some(len(b.KeptRigs))].ID
		b.KeptRigs = append(slices.Clone(b.KeptRigs), &revised)
		return "revise"
	case kind < 10:
		b.Devices = slices.Clone(b.Devices)
		d := &b.Devices[some(len(b.Devices))]
		d.Modes = slices.Clone(d.Modes)
		d.Modes[0].Varies = !d.Modes[0].Varies
		return "change a device"
	case kind < 11:
		own := b.KeptMeasurements[some(len(b.KeptMeasurements))].ID
		b.Variances = []estimate.Variance{{Class: "take.own." + own, MS2: 9, PriorMS2: 4, NuPrior: 2}}
		return "give a class of its own"
	case kind < 13:
		b.Stated = append(slices.Clone(b.Stated), estimate.Stated{
			ID: fmt.Sprintf("new%03d", g.writes), Device: "d1", Mode: "m1", Difference: &[2]estimate.Signal{estimate.Picture, estimate.Sound},
			ValueMS: 50, UMS: 1,
		})
		return "state"
	}
	free := estimate.Variance{Class: "take.free", MS2: 1 + g.random.Float64(), PriorMS2: 1, NuPrior: 4}
	free.Phase = []estimate.PhaseRule{estimate.PhaseKnown, estimate.PhaseAbsent}[g.random.IntN(2)]
	b.Variances = []estimate.Variance{free}
	return "fit"
}

// cold is the book by value, so that nothing is known of it.
func (g *growing) cold() estimate.Book {
	b := g.book
	b.KeptRigs, b.KeptMeasurements = nil, nil
	for _, r := range g.book.KeptRigs {
		b.Rigs = append(b.Rigs, *r)
	}
	for _, m := range g.book.KeptMeasurements {
		b.Measurements = append(b.Measurements, *m)
	}
	return b
}

// Whatever is written, what a cache remembers gives the digits of a cold solve.
func TestRememberingGivesTheDigitsOfAColdSolve(t *testing.T) {
	t.Parallel()
	for seed := range uint64(4) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			g := newGrowing(t, rand.New(rand.NewPCG(seed, 77)))
			cache := estimate.NewCache(8)
			const writes = 20
			solved := 0
			unchanged := func() {} // of the version before
			for range writes {
				done := g.write()
				warm, err := estimate.SolveCached(g.book, cache)
				cold, coldErr := estimate.Solve(g.cold())
				if (err == nil) != (coldErr == nil) {
					t.Fatalf("%s: %v, cold %v", done, err, coldErr)
				}
				if err != nil {
					continue
				}
				solved++
				if got, want := allOf(t, warm, g.book), allOf(t, cold, g.book); !reflect.DeepEqual(got, want) {
					t.Fatalf("write %d, %s: the answers differ from those of a cold solve", g.writes, done)
				}
				unchanged()
				before, want := g.book, allOf(t, warm, g.book)
				unchanged = func() {
					if !reflect.DeepEqual(allOf(t, warm, before), want) {
						t.Fatalf("write %d, %s: the version before gives other answers", g.writes, done)
					}
				}
			}
			if solved < 15 {
				t.Errorf("only %d of %d books could be solved", solved, writes)
			}
		})
	}
}

// allOf is all that a solution says of the pairs of a book.
func allOf(tb testing.TB, s *estimate.Solution, b estimate.Book) []any {
	tb.Helper()
	out := []any{s.Reports(), s.Variances(), s.PooledDF()}
	for _, r := range b.KeptRigs {
		for _, pair := range [][2]string{{"p0", "s0"}, {"p1", "s1"}, {"s0", "s1"}, {"p0", estimate.Live}} {
			o, err := s.Offset(estimate.OffsetQuery{Rig: r.ID, First: pair[0], Second: pair[1], Destination: "hall"})
			if err != nil {
				tb.Fatal(err)
			}
			out = append(out, o)
		}
	}
	return out
}

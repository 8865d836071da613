package estimate_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"delaybook/domain/estimate"

	"github.com/google/go-cmp/cmp"
)

// everything asks a solution everything.
func everything(tb testing.TB, b estimate.Book, s *estimate.Solution) map[string]any {
	tb.Helper()
	out := map[string]any{"reports": s.Reports(), "variances": s.Variances(), "df": s.PooledDF()}
	if test, ok := s.ClassTest(); ok {
		out["test"] = test
	}
	for _, r := range b.Rigs {
		for _, q := range queries(r) {
			o, err := s.Offset(q)
			if err != nil {
				tb.Fatal(err)
			}
			next, err := s.NextMeasurements(q)
			if err != nil {
				tb.Fatal(err)
			}
			key := fmt.Sprint(q.Rig, q.First, q.Second, q.Destination)
			out["offset "+key], out["next "+key] = o, next
		}
	}
	for _, q := range s.Latencies() {
		l, err := s.Latency(q)
		if err != nil {
			tb.Fatal(err)
		}
		out[fmt.Sprint("latency ", q)] = l
	}
	return out
}

func queries(r estimate.Rig) []estimate.OffsetQuery {
	var out []estimate.OffsetQuery
	for _, d := range []string{"programme", "hall"} {
		for _, p := range [][2]string{{"p0", "s0"}, {"p0", "s1"}, {"p1", "s1"}, {"s0", "s1"}, {"p0", estimate.Live}} {
			out = append(out, estimate.OffsetQuery{Rig: r.ID, First: p[0], Second: p[1], Destination: d, Limit: &estimate.Limit{EarlyMS: 40, LateMS: 60}})
		}
	}
	return out
}

// The order of the slices of a book changes no digit.
func TestOrderChangesNothing(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(3, 4))
	for range 8 {
		b := randomBook(random, rate(t, "25"), 3)
		want := everything(t, b, solve(t, b))
		shuffled := b
		shuffled.Devices, shuffled.Rigs = slices.Clone(b.Devices), slices.Clone(b.Rigs)
		shuffled.Measurements, shuffled.Stated = slices.Clone(b.Measurements), slices.Clone(b.Stated)
		slices.Reverse(shuffled.Devices)
		slices.Reverse(shuffled.Rigs)
		slices.Reverse(shuffled.Stated)
		random.Shuffle(len(b.Measurements), func(i, j int) {
			m := shuffled.Measurements
			m[i], m[j] = m[j], m[i]
		})
		if diff := cmp.Diff(want, everything(t, b, solve(t, shuffled))); diff != "" {
			t.Fatalf("in another order:\n%s", diff)
		}
	}
}

// A cache changes no digit, whatever it has seen before.
func TestCacheChangesNothing(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(5, 6))
	cache := estimate.NewCache(20)
	for range 4 {
		b := randomBook(random, rate(t, "25"), 3)
		for range 4 {
			b.Measurements = append(b.Measurements, randomMeasurement(random, &b.Rigs[random.IntN(3)], fmt.Sprintf("n%d", len(b.Measurements))))
			s, err := estimate.SolveCached(b, cache)
			if err != nil {
				t.Fatal(err)
			}
			cold := solve(t, b)
			if diff := cmp.Diff(everything(t, b, cold), everything(t, b, s)); diff != "" {
				t.Fatalf("from the cache:\n%s", diff)
			}
			b.Variances = cold.Variances()
			b.Variances[random.IntN(len(b.Variances))].MS2 *= 1.5
		}
	}
}

// Delays that were dialled in are taken out: a measurement with a dial that
// moves the reading by just as much says the same.
func TestDialsAreTakenOut(t *testing.T) {
	t.Parallel()
	b := several(t)
	want := offset(t, solve(t, b), "cam-1", "mic-1")
	for i := range b.Measurements {
		m := &b.Measurements[i]
		m.Settings[0].Value = float64(i)
		*m.Readings[0].OffsetMS -= float64(i) * frame
	}
	got := offset(t, solve(t, b), "cam-1", "mic-1")
	near(t, "offset", got.Estimate.ValueMS, want.Estimate.ValueMS, 1e-9)
	near(t, "se", got.Estimate.SEMS, want.Estimate.SEMS, 1e-12)
	o, err := solve(t, b).Offset(estimate.OffsetQuery{
		Rig: "hall", First: "cam-1", Second: "mic-1", Settings: []estimate.Setting{{Control: "mic-1-delay", Value: 3}},
	})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "after", o.Outcome.AfterMS, want.Estimate.ValueMS-3*frame, 1e-9)
}

// Offsets add up: (camera - microphone 1) - (camera - microphone 2) is the offset
// of the microphones, and turning a pair round turns its sign.
func TestOffsetsAddUp(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(7, 8))
	compared := 0
	for range 30 {
		b := randomBook(random, rate(t, "25"), 2)
		s := solve(t, b)
		get := func(first, second string) estimate.Offset {
			o, err := s.Offset(estimate.OffsetQuery{Rig: "rig0", First: first, Second: second})
			if err != nil {
				t.Fatal(err)
			}
			return o
		}
		p0, p1, sounds, turned := get("p0", "s0"), get("p0", "s1"), get("s0", "s1"), get("s1", "s0")
		if sounds.Estimate != nil {
			near(t, "turned round", turned.Estimate.ValueMS, -sounds.Estimate.ValueMS, 1e-9)
			near(t, "turned round: se", turned.Estimate.SEMS, sounds.Estimate.SEMS, 1e-9)
		}
		if p0.Estimate != nil && p1.Estimate != nil {
			if sounds.Estimate == nil {
				t.Fatalf("both offsets are determined, their difference is not")
			}
			compared++
			near(t, "difference", p1.Estimate.ValueMS-p0.Estimate.ValueMS, sounds.Estimate.ValueMS, 1e-7)
		}
	}
	if compared < 10 {
		t.Errorf("only %d of 30 books said anything", compared)
	}
}

// Scatter adds up to the variance at the variances in use, and its evidence to
// the whole.
func TestScatterAddsUp(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(9, 10))
	for range 20 {
		b := randomBook(random, rate(t, "25"), 3)
		s := solve(t, b)
		for _, q := range queries(b.Rigs[0]) {
			o, err := s.Offset(q)
			if err != nil {
				t.Fatal(err)
			}
			if o.Estimate == nil {
				continue
			}
			v := 0.0
			for _, x := range []float64{
				o.Scatter.ReadingMS, o.Scatter.QuantisationMS, o.Scatter.PhaseMS, o.Scatter.OtherMS, o.Scatter.UnitMS, o.Scatter.CardSourceMS, o.Scatter.StatedMS,
			} {
				v += x * x
			}
			// The adjustment for the variances being estimated only adds.
			if se2 := o.Estimate.SEMS * o.Estimate.SEMS; v > se2*(1+1e-9) || v < se2/3 {
				t.Errorf("%v: scatter %v of a variance %v", q, v, se2)
			}
			sum := 0.0
			for _, e := range o.Evidence {
				sum += e.Share
			}
			if len(o.Evidence) > 0 {
				near(t, "shares", sum, 1, 1e-9)
			}
		}
	}
}

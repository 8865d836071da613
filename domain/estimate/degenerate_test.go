package estimate_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"delaybook/domain/estimate"
)

// unsound returns the first field that no answer may hold: NaN anywhere,
// infinity anywhere but in degrees of freedom and detectable errors.
func unsound(v reflect.Value, path string) string {
	switch v.Kind() {
	case reflect.Float64:
		x := v.Float()
		infinite := math.IsInf(x, 1) && (path[len(path)-2:] == "DF" || path[len(path)-2:] == "MS")
		if math.IsNaN(x) || math.IsInf(x, 0) && !infinite {
			return fmt.Sprintf("%s = %v", path, x)
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			return unsound(v.Elem(), path)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if bad := unsound(v.Field(i), path+"."+v.Type().Field(i).Name); bad != "" {
				return bad
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if bad := unsound(v.Index(i), fmt.Sprintf("%s[%d]", path, i)); bad != "" {
				return bad
			}
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			if bad := unsound(v.MapIndex(k), fmt.Sprintf("%s[%v]", path, k)); bad != "" {
				return bad
			}
		}
	}
	return ""
}

// sound asks everything of a book at its variances and with fitted ones.
func sound(tb testing.TB, b estimate.Book) {
	tb.Helper()
	s := solve(tb, b)
	fitted, err := estimate.Fit(b)
	if err != nil {
		tb.Fatal(err)
	}
	for name, s := range map[string]*estimate.Solution{"fixed": s, "fitted": fitted} {
		for key, value := range everything(tb, b, s) {
			if bad := unsound(reflect.ValueOf(value), key); bad != "" {
				tb.Errorf("%s: %s", name, bad)
			}
		}
		for _, r := range b.Rigs {
			for _, q := range queries(r) {
				o, _ := s.Offset(q)
				plausible(tb, o)
			}
		}
	}
}

// plausible checks what holds of every answer.
func plausible(tb testing.TB, o estimate.Offset) {
	tb.Helper()
	if (o.Estimate == nil) != (len(o.Missing) > 0) || (o.Estimate == nil) != (o.Next == nil) || o.Why == "" {
		tb.Errorf("half an answer: %+v", o)
	}
	if o.Estimate == nil {
		return
	}
	e, n := o.Estimate, o.Next
	if !(e.SEMS >= 0 && n.SEMS >= e.SEMS && e.DF > 0 && e.Interval[0] <= e.ValueMS && e.ValueMS <= e.Interval[1]) {
		tb.Errorf("%s - %s: %+v, next %+v", o.First, o.Second, *e, *n)
	}
	if c := o.Outcome.Chance; !(c >= 0 && c <= 1) {
		tb.Errorf("chance %v", c)
	}
}

func TestRandomBooksAreSound(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(11, 12))
	for range 25 {
		sound(t, randomBook(random, rate(t, "25"), 1+random.IntN(4)))
	}
}

func TestDegenerateBooksAreSound(t *testing.T) {
	t.Parallel()
	hallBook := func(ms ...estimate.Measurement) estimate.Book {
		b := hall(t, estimate.FreeTiming)
		b.Rigs[0].Destinations[1].Slug = "hall"
		for i, c := range []string{"p0", "p1", "s0", "s1"} {
			b.Rigs[0].Chains[i].Slug = c
		}
		for i := range ms {
			if ms[i].Second == "s0" {
				ms[i].Settings = []estimate.Setting{{Control: "mic-1-delay"}}
			}
		}
		b.Measurements = ms
		return b
	}
	same := func(n int) (ms []estimate.Measurement) {
		for i := range n {
			ms = append(ms, clap(fmt.Sprintf("m%d", i), "p0", "s0", fmt.Sprintf("p%d", i), 3))
		}
		return ms
	}
	list := clip("list", "p0", "s0", "p1", 0, 1)
	list.Readings = nil
	for range 5 {
		list.Readings = append(list.Readings, estimate.Reading{OffsetMS: ptr(80)})
	}
	twice := hallBook(same(2)...)
	chain := &twice.Rigs[0].Chains[0]
	chain.Stages = append(chain.Stages, chain.Stages[0], chain.Stages[0])
	contrary := hallBook(same(2)...)
	for i, ms := range []float64{5, 500} {
		contrary.Stated = append(contrary.Stated, estimate.Stated{ID: fmt.Sprint(i), Device: "camera", Mode: "p25", Signal: estimate.Picture, ValueMS: ms, UMS: 0.01})
	}
	apart := hallBook(clap("a", "p0", "s0", "p1", 3), clip("b", "p1", "s1", "p1", 80, 1))
	apart.Rigs[0].Chains[3].Stages[0].Device = "wire"
	opposed := hallBook(clip("a", "p0", "s0", "p1", 1e6, 1e-5), clip("b", "p0", "s0", "p1", -1e6, 1e-5), clip("c", "p0", "s0", "p2", 0, 1e5))
	for name, b := range map[string]estimate.Book{
		"nothing":                hallBook(),
		"one measurement":        hallBook(same(1)...),
		"identical":              hallBook(same(5)...),
		"identical list":         hallBook(list),
		"live alone":             hallBook(clap("l", "p0", estimate.Live, "p1", 2)),
		"huge":                   hallBook(clip("huge", "p0", "s0", "p1", 1e6, 1)),
		"tiny uncertainty":       hallBook(clip("tiny", "p0", "s0", "p1", 80, 2e-6), clip("tiny 2", "p0", "s0", "p2", 90, 2e-6)),
		"opposed":                opposed,
		"one device three times": twice,
		"contradictory stated":   contrary,
		"disconnected":           apart,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			sound(t, b)
		})
	}
}

func TestLiveAgainstLiveIsRefused(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.HouseTiming)
	b.Measurements = []estimate.Measurement{clap("l", estimate.Live, estimate.Live, "p1", 2)}
	if err := b.Check(); err == nil {
		t.Errorf("a live chain was compared with itself")
	}
	if _, err := solve(t, hall(t, estimate.HouseTiming)).Offset(estimate.OffsetQuery{Rig: "hall", First: estimate.Live, Second: estimate.Live}); err == nil {
		t.Errorf("the offset of live with itself was answered")
	}
}

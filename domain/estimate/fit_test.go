package estimate_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"delaybook/domain/estimate"
)

// scattered are clips of a free camera in power-ups of their own, spread evenly
// over a width about 120 ms in an order that looks random.
func scattered(tb testing.TB, n int, width float64) estimate.Book {
	tb.Helper()
	b := hall(tb, estimate.FreeTiming)
	random := rand.New(rand.NewPCG(1, 2))
	for i, at := range random.Perm(n) {
		ms := 120 + width*((float64(at)+0.5)/float64(n)-0.5)
		b.Measurements = append(b.Measurements, clip(fmt.Sprintf("m%02d", i), "cam-1", "mic-1", fmt.Sprintf("p%d", i), ms, 0.5))
	}
	return b
}

func TestClassTestOfTheFreePhase(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		width float64
		want  estimate.PhaseRule
		flag  string
	}{
		{frame, estimate.PhaseKnown, ""},
		{1.8 * frame, estimate.PhaseRejected, estimate.FlagPhaseRejected},
		{2, estimate.PhaseAbsent, estimate.FlagLooksLocked},
	} {
		const n = 12
		b := scattered(t, n, c.width)
		fitted, err := estimate.Fit(b)
		if err != nil {
			t.Fatal(err)
		}
		test, ok := solve(t, b).ClassTest()
		// One pair: Q is the sum of squares about the mean over its variance:
		// T^2/12 of the phase, 1 ms of scatter and 0.5 ms of reading.
		ss := c.width * c.width * (1 - 1.0/(n*n)) / 12 * n
		near(t, "Q", test.Q, ss/(frame*frame/12+1+0.25), 1e-9*test.Q)
		if !ok || test.Nu != n-1 || test.Phase != c.want {
			t.Errorf("width %v: test %+v", c.width, test)
		}
		o := offset(t, fitted, "cam-1", "mic-1")
		if got := slices.Contains(o.Flags, c.flag); c.flag != "" && !got {
			t.Errorf("width %v: flags %v lack %s", c.width, o.Flags, c.flag)
		}
		i := slices.IndexFunc(fitted.Variances(), func(v estimate.Variance) bool { return v.Class == "take.free" })
		v := fitted.Variances()[i]
		if v.Phase != c.want {
			t.Errorf("width %v: variance %+v", c.width, v)
		}
		if c.want == estimate.PhaseRejected {
			near(t, "prior of a phase that is estimated", v.PriorMS2, frame*frame/12, 1e-9)
		}
	}
}

// Two microphones in each power-up share its phase. Their difference scatters by
// 4 ms here, where the priors say 1.6, so that Q is far above its bound; yet the
// power-ups scatter as one frame does, and the phase stays. Where they scatter
// as two frames do, or not at all, it goes.
func TestClassTestJudgesThePhaseByPowerUps(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		width, noise float64
		want         estimate.PhaseRule
	}{
		{frame, 2, estimate.PhaseKnown},
		{2 * frame, 2, estimate.PhaseRejected},
		{2, 0.1, estimate.PhaseAbsent},
		{frame, 0.1, estimate.PhaseKnown},
	} {
		b := scattered(t, 12, c.width)
		for i := range b.Measurements {
			m := b.Measurements[i]
			noise := c.noise * float64(1-2*(i%2))
			ms := *m.Readings[0].OffsetMS
			m.ID, m.Second = "second-"+m.ID, "mic-2"
			m.Readings = []estimate.Reading{{OffsetMS: ptr(ms - noise), UMS: ptr(0.5)}}
			b.Measurements[i].Readings = []estimate.Reading{{OffsetMS: ptr(ms + noise), UMS: ptr(0.5)}}
			b.Measurements = append(b.Measurements, m)
		}
		test, ok := solve(t, b).ClassTest()
		if !ok || test.Phase != c.want || test.Nu != 22 {
			t.Errorf("width %v, noise %v: %+v, want %q", c.width, c.noise, test, c.want)
		}
		if over := test.Q > test.High; c.noise == 2 && !over {
			t.Errorf("width %v: Q %v below %v: the case does not tell the two tests apart", c.width, test.Q, test.High)
		}
	}
}

// The test rests on the priors in use, not on the variances.
func TestClassTestTakesThePriorInUse(t *testing.T) {
	t.Parallel()
	b := scattered(t, 12, frame)
	b.Variances = []estimate.Variance{{Class: "take.free", MS2: 7, PriorMS2: 16, NuPrior: 4}}
	test, _ := solve(t, b).ClassTest()
	ss := frame * frame * (1 - 1.0/144)
	near(t, "Q", test.Q, ss/(frame*frame/12+16+0.25), 1e-9*test.Q)
}

// What a fit published is what a cold solve at its variances gives.
func TestSolveRepeatsAFit(t *testing.T) {
	t.Parallel()
	for _, width := range []float64{2, frame, 4 * frame} {
		b := scattered(t, 9, width)
		fitted, err := estimate.Fit(b)
		if err != nil {
			t.Fatal(err)
		}
		b.Variances = fitted.Variances()
		again := offset(t, solve(t, b), "cam-1", "mic-1")
		first := offset(t, fitted, "cam-1", "mic-1")
		near(t, "value", again.Estimate.ValueMS, first.Estimate.ValueMS, 1e-9)
		near(t, "se", again.Estimate.SEMS, first.Estimate.SEMS, 1e-9)
		near(t, "next", again.Next.Interval[1], first.Next.Interval[1], 1e-9)
		refitted, err := estimate.Fit(b)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range refitted.Variances() {
			near(t, "variance "+v.Class, v.MS2, b.Variances[i].MS2, 1e-8*v.MS2)
		}
	}
}

// Two classes known from their priors alone have their degrees of freedom; more
// measurements add to them.
func TestPooledDF(t *testing.T) {
	t.Parallel()
	b := several(t)
	b.Measurements = b.Measurements[:1]
	one := solve(t, b)
	priors := 0.0
	for _, v := range one.Variances() {
		priors += v.NuPrior
	}
	near(t, "one measurement", one.PooledDF(), priors, 1e-9)
	six := solve(t, several(t)).PooledDF()
	if !(six > priors+2 && six < priors+5) { // five differences, of which reading errors take their part
		t.Errorf("six measurements have %v degrees of freedom, priors %v", six, priors)
	}
}

// The variance of one locked pair in isolation is the posterior mode of a
// scaled inverse chi-squared law: with u = 1e-3 ms readings and n rows
//
//	s2 = (nu0 s0 + SS)/(nu0 + n - 1)
//
// in log s2 (A. Gelman et al., Bayesian Data Analysis, section 3.2, whose
// posterior has nu0 + n - 1 degrees of freedom and this scale).
func TestFittedVarianceOfOnePair(t *testing.T) {
	t.Parallel()
	b := several(t)
	var sum, ss float64
	n := float64(len(b.Measurements))
	for i := range b.Measurements {
		b.Measurements[i].Readings[0].UMS = ptr(1e-5)
		sum += *b.Measurements[i].Readings[0].OffsetMS
	}
	for _, m := range b.Measurements {
		ss += math.Pow(*m.Readings[0].OffsetMS-sum/n, 2)
	}
	fitted, err := estimate.Fit(b)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range fitted.Variances() {
		if v.Class == "take.locked" {
			near(t, "take.locked", v.MS2, (4*1+ss)/(4+n-1), 1e-8)
		}
	}
}

// Power-ups that differ far less than the priors say leave variances near zero,
// where the prior is steep. A fit that starts where the last one ended stays.
func TestFitSettlesNearZero(t *testing.T) {
	t.Parallel()
	b := largeBook(t, 150, 300, 1500)
	first, err := estimate.Fit(b)
	if err != nil {
		t.Fatal(err)
	}
	b.Variances = first.Variances()
	again, err := estimate.Fit(b)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range again.Variances() {
		near(t, v.Class, v.MS2, b.Variances[i].MS2, 1e-9*v.MS2)
	}
}

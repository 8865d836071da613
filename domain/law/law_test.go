package law_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"delaybook/domain/law"
)

// Two-sided 95 % points of Student's t as printed in the tables of ISO 2854 and the GUM
// (JCGM 100:2008, table G.2). The digits past the third decimal are exact values: cot(pi/40) for 1,
// sqrt(2)*0.95/sqrt(1-0.95^2) for 2, and quadrature of the density for the others. The incomplete
// beta function under our value is good to about 1e-10.
func TestStudentFactorIsTheTable(t *testing.T) {
	t.Parallel()
	for df, want := range map[float64]float64{
		1: 12.7062047362, 2: 4.3026527299, 4: 2.7764451052, 6: 2.4469118511, 10: 2.2281388520,
		30: 2.0422724563, 100: 1.9839715184,
	} {
		got, err := law.StudentFactor(df)
		if err != nil || math.Abs(got*law.Z975-want) > 3e-10 {
			t.Errorf("t(%v) = %.12f, %v; want %.10f", df, got*law.Z975, err, want)
		}
	}
	for _, df := range []float64{2e6, math.Inf(1)} {
		if got, err := law.StudentFactor(df); err != nil || got != 1 {
			t.Errorf("StudentFactor(%v) = %v, %v; want 1", df, got, err)
		}
	}
	if got, err := law.StudentFactor(1e-300); err != nil || got != 1e150 {
		t.Errorf("hardly any degrees of freedom: %v, %v", got, err)
	}
	for _, df := range []float64{0, -1, math.NaN()} {
		if _, err := law.StudentFactor(df); !errors.Is(err, law.ErrLaw) {
			t.Errorf("StudentFactor(%v): %v, want ErrLaw", df, err)
		}
	}
}

// A fraction of a degree of freedom is a very long tail, not a failure.
func TestStudentFactorSmallDegreesOfFreedom(t *testing.T) {
	t.Parallel()
	last := math.Inf(1)
	for _, df := range []float64{0.05, 0.3, 0.5, 1, 1.5, 3, 1e3, 1e5, 1e6} {
		got, err := law.StudentFactor(df)
		if err != nil || !(got < last) || got < 1 {
			t.Errorf("StudentFactor(%v) = %v, %v; want falling towards 1", df, got, err)
		}
		last = got
	}
}

// Degenerate laws have textbook answers: normal 1.96 s; uniform 0.95 A; certainty 0.
func TestHalfWidthOfTheEnds(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		law  law.Law
		want float64
	}{
		{law.Law{S: 2}, 2 * law.Z975},
		{law.Law{S: 2, A: 1e-4}, 2 * law.Z975},
		{law.Law{A: 10}, 9.5},
		{law.Law{A: 10, S: 1e-10, Q: 2}, 19},
		{law.Law{}, 0},
	} {
		if got := c.law.HalfWidth95(); math.Abs(got-c.want) > 1e-8 {
			t.Errorf("%+v: half-width %v, want %v", c.law, got, c.want)
		}
	}
}

// The branch to the normal must not step: either side of A = 1e-3 S agrees.
func TestNormalBranchIsContinuous(t *testing.T) {
	t.Parallel()
	below, above := law.Law{A: 0.999e-3, S: 1}, law.Law{A: 1.001e-3, S: 1}
	for x := -5.0; x <= 5; x += 0.1 {
		if d := math.Abs(below.CDF(x) - above.CDF(x)); d > 2e-9 {
			t.Fatalf("step of %v at %v", d, x)
		}
	}
}

// The convolution itself, by the midpoint rule over the uniform, is the reference.
func TestCDFIsTheConvolution(t *testing.T) {
	t.Parallel()
	for _, l := range []law.Law{{A: 16.7, S: 10, Q: 1.25}, {A: 8, S: 3, Q: 1.05}, {A: 0.2, S: 4}} {
		q := l.Q
		if q == 0 {
			q = 1
		}
		for x := -60.0; x <= 60; x += 7.3 {
			const n = 20000
			sum := 0.0
			for i := range n {
				u := l.A * (2*(float64(i)+0.5)/n - 1)
				sum += math.Erfc(-(x/q-u)/(l.S*math.Sqrt2)) / 2
			}
			if d := math.Abs(sum/n - l.CDF(x)); d > 2e-8 {
				t.Errorf("%+v at %v: off by %v", l, x, d)
			}
		}
	}
}

func TestQuantileInvertsCDF(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(7, 1))
	for range 2000 {
		l := law.Law{A: 30 * rng.Float64(), S: 20 * rng.Float64(), Q: 1 + rng.Float64()}
		p := 0.001 + 0.998*rng.Float64()
		if d := math.Abs(l.CDF(l.Quantile(p)) - p); d > 1e-12 {
			t.Fatalf("%+v: CDF(Quantile(%v)) off by %v", l, p, d)
		}
	}
}

// A seeded simulation of the law itself: 95 % of draws of one uniform plus a normal lie within
// HalfWidth95 (standard error of 200,000 draws 0.0005).
func TestHalfWidthCovers(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(11, 3))
	l := law.Law{A: 1001.0 / 60, S: 6, Q: 1}
	half, in := l.HalfWidth95(), 0
	const n = 200000
	for range n {
		if math.Abs(l.A*(2*rng.Float64()-1)+l.S*rng.NormFloat64()) <= half {
			in++
		}
	}
	if got := float64(in) / n; math.Abs(got-0.95) > 0.002 {
		t.Errorf("covered %v, want 0.95", got)
	}
}

// FromMoments undoes the cumulants of its own law: variance S^2 + A^2/3, fourth -2A^4/15.
func TestFromMomentsMatchesCumulants(t *testing.T) {
	t.Parallel()
	got, err := law.FromMoments(10*10+16.0*16/3, -2*math.Pow(16, 4)/15, math.Inf(1))
	if err != nil || math.Abs(got.A-16) > 1e-12 || math.Abs(got.S-10) > 1e-12 || got.Q != 1 {
		t.Errorf("FromMoments = %+v, %v", got, err)
	}
	capped, err := law.FromMoments(3, -1e9, 5)
	if err != nil || capped.A != 3 || capped.S != 0 {
		t.Errorf("the uniform must not exceed the variance: %+v, %v", capped, err)
	}
	if l, err := law.FromMoments(4, 5, 5); err != nil || l.A != 0 || l.S != 2 {
		t.Errorf("positive kappa is no uniform: %+v, %v", l, err)
	}
	for _, bad := range [][3]float64{{-1, 0, 1}, {math.NaN(), 0, 1}, {1, math.NaN(), 1}, {1, 0, 0}} {
		if _, err := law.FromMoments(bad[0], bad[1], bad[2]); !errors.Is(err, law.ErrLaw) {
			t.Errorf("FromMoments(%v): %v, want ErrLaw", bad, err)
		}
	}
}

// Symmetric and unimodal: the chance depends on the distance from the middle of the window and
// falls with it, which the planner builds on.
func TestChanceFallsFromTheMiddle(t *testing.T) {
	t.Parallel()
	w := law.Window{Early: 40, Late: 60}
	l := law.Law{A: 16, S: 9, Q: 1.2}
	var got []float64
	for d := 0.0; d < 150; d += 0.5 {
		if a, b := l.Chance(-10+d, w), l.Chance(-10-d, w); math.Abs(a-b) > 1e-13 {
			t.Fatalf("not symmetric at %v: %v and %v", d, a, b)
		}
		got = append(got, l.Chance(-10+d, w))
	}
	if !sort.SliceIsSorted(got, func(i, j int) bool { return got[i] > got[j] }) {
		t.Error("the chance does not fall with the distance")
	}
}

// With a limit exactly as wide as next95 the chance is 0.95, whatever the law.
func TestChanceOfNext95(t *testing.T) {
	t.Parallel()
	for _, l := range []law.Law{{A: 16, S: 9, Q: 1.2}, {S: 4, Q: 1.05}, {A: 5, Q: 1}} {
		h := l.HalfWidth95()
		if got := l.Chance(3, law.Window{Early: 3 + h, Late: h - 3}); math.Abs(got-0.95) > 1e-12 {
			t.Errorf("%+v: %v", l, got)
		}
	}
}

func TestNewRefuses(t *testing.T) {
	t.Parallel()
	for _, c := range [][3]float64{{-1, 1, 1}, {1, -1, 1}, {1, 1, 0.99}, {math.NaN(), 1, 1}, {1, math.Inf(1), 1}, {1, 1, math.NaN()}} {
		if _, err := law.New(c[0], c[1], c[2]); !errors.Is(err, law.ErrLaw) {
			t.Errorf("New%v: %v, want ErrLaw", c, err)
		}
	}
}

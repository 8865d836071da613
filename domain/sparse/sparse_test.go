package sparse_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"delaybook/domain/sparse"

	"gonum.org/v1/gonum/mat"
)

func build(tb testing.TB, n int, entries map[[2]int]float64) *sparse.Symmetric {
	tb.Helper()
	b, err := sparse.NewBuilder(n)
	if err != nil {
		tb.Fatal(err)
	}
	for place, v := range entries {
		if err := b.Add(place[0], place[1], v); err != nil {
			tb.Fatal(err)
		}
	}
	m, err := b.Build()
	if err != nil {
		tb.Fatal(err)
	}
	return m
}

func factor(tb testing.TB, m *sparse.Symmetric) (*sparse.Analysis, *sparse.Factor) {
	tb.Helper()
	a, err := sparse.Analyze(m)
	if err != nil {
		tb.Fatal(err)
	}
	f, err := a.Factor(m)
	if err != nil {
		tb.Fatal(err)
	}
	return a, f
}

// dominant draws a random pattern and makes it positive definite by its
// diagonal.
func dominant(rng *rand.Rand, n, pairs int) map[[2]int]float64 {
	out := make(map[[2]int]float64)
	sum := make([]float64, n)
	for range pairs {
		i, j := rng.IntN(n), rng.IntN(n)
		if i == j {
			continue
		}
		place := [2]int{max(i, j), min(i, j)}
		sum[i] -= math.Abs(out[place])
		sum[j] -= math.Abs(out[place])
		out[place] = rng.NormFloat64()
		sum[i] += math.Abs(out[place])
		sum[j] += math.Abs(out[place])
	}
	for i := range n {
		out[[2]int{i, i}] = sum[i] + 0.1 + rng.Float64()
	}
	return out
}

// reference is the dense Cholesky factorisation of gonum (LAPACK's dpotrf).
func reference(tb testing.TB, m *sparse.Symmetric) *mat.Cholesky {
	tb.Helper()
	d := mat.NewSymDense(m.Size(), nil)
	for i := range m.Size() {
		for j := range i + 1 {
			d.SetSym(i, j, m.At(i, j))
		}
	}
	var c mat.Cholesky
	if !c.Factorize(d) {
		tb.Fatal("the reference calls the matrix singular")
	}
	return &c
}

// agree checks log-determinant, a solution and the selected inverse against
// the dense reference. tol is relative to the largest entry.
func agree(t *testing.T, m *sparse.Symmetric, tol float64) {
	t.Helper()
	a, f := factor(t, m)
	n := m.Size()
	ref := reference(t, m)
	if got, want := f.LogDet(), ref.LogDet(); math.Abs(got-want) > tol*(1+math.Abs(want)) {
		t.Errorf("n=%d: log-determinant %v, want %v", n, got, want)
	}
	b := make([]float64, n)
	for i := range b {
		b[i] = math.Sin(float64(i))
	}
	got, err := f.Solve(b)
	if err != nil {
		t.Fatal(err)
	}
	var want mat.VecDense
	if err := ref.SolveVecTo(&want, mat.NewVecDense(n, b)); err != nil {
		t.Fatal(err)
	}
	near(t, "solution", got, want.RawVector().Data, tol)

	var inverse mat.SymDense
	if err := ref.InverseTo(&inverse); err != nil {
		t.Fatal(err)
	}
	agreeInverse(t, m, a, f.Inverse(), &inverse, tol)
}

func agreeInverse(t *testing.T, m *sparse.Symmetric, a *sparse.Analysis, v *sparse.Inverse, want *mat.SymDense, tol float64) {
	t.Helper()
	var got, all []float64
	present := 0
	for i := range m.Size() {
		for j := range i + 1 {
			z, ok := v.At(j, i)
			if mirrored, _ := v.At(i, j); mirrored != z {
				t.Fatalf("the inverse is not symmetric at (%d, %d)", i, j)
			}
			if ok {
				present++
				got, all = append(got, z), append(all, want.At(i, j))
			} else if m.At(i, j) != 0 {
				t.Fatalf("place (%d, %d) of the matrix is missing in the inverse", i, j)
			}
		}
	}
	if present < a.Nonzeros() {
		t.Errorf("%d entries of the inverse, the factor has %d", present, a.Nonzeros())
	}
	near(t, "inverse", got, all, tol)
}

func near(t *testing.T, what string, got, want []float64, tol float64) {
	t.Helper()
	scale := 0.0
	for _, w := range want {
		scale = max(scale, math.Abs(w))
	}
	for i := range want {
		if !(math.Abs(got[i]-want[i]) <= tol*scale) {
			t.Fatalf("%s, place %d: %v, want %v", what, i, got[i], want[i])
		}
	}
}

// The rounding error of a Cholesky solution is of the order n eps times the
// condition, here below 1e3 (diagonal dominance): 1e-11 leaves a margin.
func TestAgainstDenseCholesky(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(21, 61))
	for trial := range 200 {
		n := 1 + rng.IntN(60)
		agree(t, build(t, n, dominant(rng, n, rng.IntN(4*n))), 1e-11)
		if t.Failed() {
			t.Fatalf("trial %d", trial)
		}
	}
}

func TestBookAgainstDenseCholesky(t *testing.T) {
	t.Parallel()
	for _, clustered := range []bool{true, false} {
		m, rigs := book(t, 300, clustered)
		agree(t, m, 1e-11)
		_, f := factor(t, m)
		v := f.Inverse()
		for _, rig := range rigs {
			w, coef := make([]float64, m.Size()), make([]float64, len(rig))
			for k, i := range rig {
				coef[k] = float64(1 + k)
				w[i] = coef[k]
			}
			x, err := f.Solve(w)
			if err != nil {
				t.Fatal(err)
			}
			want := 0.0
			for i := range w {
				want += w[i] * x[i]
			}
			got, err := v.Quadratic(rig, coef)
			if err != nil || math.Abs(got-want) > 1e-10*want {
				t.Fatalf("quadratic form %v, %v, want %v", got, err, want)
			}
		}
	}
}

// The second-difference matrix of order n has determinant n+1 and the inverse
// min(i,j) (n+1-max(i,j)) / (n+1) for i, j from 1 (Gregory and Karney, "A
// Collection of Matrices for Testing Computational Algorithms", 1969, from
// memory).
func TestSecondDifferences(t *testing.T) {
	t.Parallel()
	for _, n := range []int{1, 2, 3, 17, 500} {
		entries := map[[2]int]float64{}
		for i := range n {
			entries[[2]int{i, i}] = 2
			if i > 0 {
				entries[[2]int{i, i - 1}] = -1
			}
		}
		m := build(t, n, entries)
		a, f := factor(t, m)
		if want := 2*n - 1; a.Nonzeros() != want {
			t.Errorf("n=%d: %d entries in the factor, want %d: a path fills in nothing", n, a.Nonzeros(), want)
		}
		if got, want := math.Exp(f.LogDet()), float64(n+1); math.Abs(got-want) > 1e-10*want {
			t.Errorf("n=%d: determinant %v, want %v", n, got, want)
		}
		v := f.Inverse()
		for i := range n {
			for _, j := range []int{i, max(0, i-1)} {
				want := float64((min(i, j)+1)*(n-max(i, j))) / float64(n+1)
				if got, ok := v.At(i, j); !ok || math.Abs(got-want) > 1e-11*float64(n) {
					t.Fatalf("n=%d: inverse (%d, %d) %v %v, want %v", n, i, j, got, ok, want)
				}
			}
		}
	}
}

func TestSpecialShapes(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(22, 61))
	arrow := dominant(rng, 400, 300)
	for j := range 400 {
		arrow[[2]int{max(j, 7), min(j, 7)}] = 0.01
		arrow[[2]int{j, j}] += 1
	}
	arrow[[2]int{7, 7}] = 10
	full := map[[2]int]float64{}
	for i := range 200 {
		for j := range i + 1 {
			full[[2]int{i, j}] = 1 / float64(1+i+j)
		}
		full[[2]int{i, i}] += 1
	}
	islands := map[[2]int]float64{}
	for i := range 90 {
		islands[[2]int{i, i}] = 3
		if i%3 > 0 {
			islands[[2]int{i, i - 1}] = 1
		}
	}
	agree(t, build(t, 400, arrow), 1e-11)
	agree(t, build(t, 200, full), 1e-11)
	agree(t, build(t, 90, islands), 1e-12)
	agree(t, build(t, 1, map[[2]int]float64{{0, 0}: 4}), 1e-15)

	if order := sparse.MinimumDegree(build(t, 400, arrow)); order[399] != 7 {
		t.Errorf("the dense unknown is eliminated before others: %v", slices.Index(order, 7))
	}
}

func TestEmpty(t *testing.T) {
	t.Parallel()
	m := build(t, 0, nil)
	a, f := factor(t, m)
	x, err := f.Solve(nil)
	if a.Nonzeros() != 0 || len(a.Order()) != 0 || f.LogDet() != 0 || len(x) != 0 || err != nil {
		t.Errorf("nonzeros %d, log-determinant %v, solution %v, %v", a.Nonzeros(), f.LogDet(), x, err)
	}
	if d := f.Inverse().Diagonal(); len(d) != 0 {
		t.Errorf("diagonal %v", d)
	}
}

// pathTotal is 0.1 + 0.2 in float64, a little above 0.3.
var pathTotal = func(a, b float64) float64 { return a + b }(0.1, 0.2)

func TestNotPositiveDefinite(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		n       int
		entries map[[2]int]float64
	}{
		"negative":   {2, map[[2]int]float64{{0, 0}: 1, {1, 1}: -3}},
		"zero":       {3, map[[2]int]float64{{0, 0}: 1, {2, 2}: 1}},
		"indefinite": {2, map[[2]int]float64{{0, 0}: 1, {1, 1}: 1, {1, 0}: 2}},
		// A path without an anchor: singular, yet rounding leaves 2.8e-17.
		"only rounding": {3, map[[2]int]float64{{0, 0}: 0.1, {1, 1}: pathTotal, {2, 2}: 0.2, {1, 0}: -0.1, {2, 1}: -0.2}},
	} {
		m := build(t, c.n, c.entries)
		a, err := sparse.AnalyzeOrdered(m, []int{0, 1, 2}[:c.n])
		if err != nil {
			t.Fatal(err)
		}
		var pivot *sparse.PivotError
		if _, err := a.Factor(m); !errors.As(err, &pivot) {
			t.Errorf("%s: %v", name, err)
		} else if pivot.Unknown < 0 || pivot.Unknown >= c.n || pivot.Pivot > 1e-15 {
			t.Errorf("%s: %+v", name, pivot)
		}
	}
}

func TestAnalysisServesOtherValues(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(24, 61))
	entries := dominant(rng, 40, 100)
	m := build(t, 40, entries)
	a, err := sparse.Analyze(m)
	if err != nil {
		t.Fatal(err)
	}
	m.Clear()
	for place, v := range entries {
		if err := m.Add(place[1], place[0], 3*v); err != nil {
			t.Fatal(err)
		}
	}
	f, err := a.Factor(m)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := f.LogDet(), reference(t, m).LogDet(); math.Abs(got-want) > 1e-10 {
		t.Errorf("log-determinant %v, want %v", got, want)
	}
	if _, err := a.Factor(build(t, 40, dominant(rng, 40, 100))); err == nil {
		t.Error("a matrix of another pattern was factored")
	}
}

func TestPatternsOfEqualColumnCounts(t *testing.T) {
	t.Parallel()
	a, err := sparse.Analyze(build(t, 3, map[[2]int]float64{{0, 0}: 1, {1, 1}: 1, {2, 2}: 1, {1, 0}: 0.1}))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Factor(build(t, 3, map[[2]int]float64{{0, 0}: 1, {1, 1}: 1, {2, 2}: 1, {2, 0}: 0.1})); err == nil {
		t.Error("a matrix of another pattern was factored")
	}
}

func TestBadInput(t *testing.T) {
	t.Parallel()
	if _, err := sparse.NewBuilder(-1); err == nil {
		t.Error("-1 unknowns accepted")
	}
	b, err := sparse.NewBuilder(2)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range []struct {
		i, j int
		v    float64
	}{{-1, 0, 1}, {0, 2, 1}, {0, 0, math.NaN()}, {0, 0, math.Inf(1)}} {
		if err := b.Add(e.i, e.j, e.v); err == nil {
			t.Errorf("entry %v accepted", e)
		}
	}
	m := build(t, 3, map[[2]int]float64{{0, 0}: 1, {1, 1}: 1, {2, 2}: 1})
	if err := m.Add(1, 0, 1); err == nil {
		t.Error("an entry outside the pattern accepted")
	}
	if _, err := m.Times([]float64{1}); err == nil {
		t.Error("a short vector multiplied")
	}
	for _, order := range [][]int{{0, 1}, {0, 1, 1}, {0, 1, 3}, {-1, 0, 1}} {
		if _, err := sparse.AnalyzeOrdered(m, order); err == nil {
			t.Errorf("order %v accepted", order)
		}
	}
	_, f := factor(t, m)
	if _, err := f.Solve([]float64{1}); err == nil {
		t.Error("a short right-hand side solved")
	}
	v := f.Inverse()
	if _, ok := v.At(0, 3); ok {
		t.Error("an entry outside the matrix")
	}
	if _, err := v.Quadratic([]int{0, 3}, []float64{1, 1}); err == nil {
		t.Error("a quadratic form outside the pattern")
	}
	if _, err := v.Quadratic([]int{0}, nil); err == nil {
		t.Error("a quadratic form without values")
	}
}

func TestTimes(t *testing.T) {
	t.Parallel()
	m := build(t, 3, map[[2]int]float64{{0, 0}: 1, {1, 1}: 2, {2, 2}: 3, {2, 0}: 4, {1, 2}: 5})
	got, err := m.Times([]float64{1, 10, 100})
	if err != nil {
		t.Fatal(err)
	}
	if want := []float64{401, 520, 354}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

package sparse_test

import (
	"fmt"
	"math"
	"testing"

	"delaybook/domain/sparse"
)

type size struct {
	unknowns  int
	clustered bool
}

var sizes = []size{{300, true}, {3_000, true}, {9_000, true}, {30_000, true}, {3_000, false}}

func (s size) String() string {
	if s.clustered {
		return fmt.Sprintf("unknowns=%d", s.unknowns)
	}
	return fmt.Sprintf("unknowns=%d/random", s.unknowns)
}

// On a matrix too large for the dense reference: the residual of a solution,
// and trace(C C⁻¹) = n, which takes every entry of the inverse on the pattern
// of C.
func TestLargeBook(t *testing.T) {
	t.Parallel()
	m, _ := book(t, 9_000, true)
	_, f := factor(t, m)
	want := make([]float64, m.Size())
	for i := range want {
		want[i] = math.Cos(float64(i))
	}
	b, err := m.Times(want)
	if err != nil {
		t.Fatal(err)
	}
	got, err := f.Solve(b)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "solution", got, want, 1e-11)
	v, trace := f.Inverse(), 0.0
	m.Each(func(i, j int, c float64) {
		z, ok := v.At(i, j)
		if !ok {
			t.Fatalf("place (%d, %d) of the matrix is missing in the inverse", i, j)
		}
		if i != j {
			c *= 2
		}
		trace += c * z
	})
	if n := float64(m.Size()); math.Abs(trace-n) > 1e-11*n {
		t.Errorf("trace of C times its inverse is %v, want %v", trace, n)
	}
}

func BenchmarkAnalyze(b *testing.B) {
	for _, s := range sizes {
		m, _ := book(b, s.unknowns, s.clustered)
		b.Run(s.String(), func(b *testing.B) {
			for b.Loop() {
				a, err := sparse.Analyze(m)
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(a.Nonzeros()), "nnz(L)")
				b.ReportMetric(float64(m.Nonzeros()), "nnz(C)")
			}
		})
	}
}

func BenchmarkFactorAndSolve(b *testing.B) {
	for _, s := range sizes {
		m, _ := book(b, s.unknowns, s.clustered)
		a, err := sparse.Analyze(m)
		if err != nil {
			b.Fatal(err)
		}
		rhs := make([]float64, m.Size())
		rhs[0] = 1
		b.Run(s.String(), func(b *testing.B) {
			for b.Loop() {
				f, err := a.Factor(m)
				if err != nil {
					b.Fatal(err)
				}
				if _, err := f.Solve(rhs); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkInverse(b *testing.B) {
	for _, s := range sizes {
		m, _ := book(b, s.unknowns, s.clustered)
		_, f := factor(b, m)
		b.Run(s.String(), func(b *testing.B) {
			for b.Loop() {
				f.Inverse()
			}
		})
	}
}

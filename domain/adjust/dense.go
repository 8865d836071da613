package adjust

import (
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// A denseFactor keeps the whole inverse.
type denseFactor struct {
	chol  mat.Cholesky
	upper blas64.Triangular // U of C = U'U
	inv   []float64         // of C, n x n
	n     int
}

func (s *State) factorise() (factor, error) {
	n := s.model.Columns
	if n > denseColumns {
		return s.factoriseSparse()
	}
	f := &denseFactor{n: n}
	if n == 0 {
		return f, nil
	}
	c := mat.NewSymDense(n, nil)
	raw := c.RawSymmetric()
	s.each(func(i, j int, v float64) { raw.Data[i*raw.Stride+j] += v })
	for i := range n {
		if !(c.At(i, i) > 0) {
			return nil, ErrSingular
		}
	}
	if !f.chol.Factorize(c) {
		return nil, ErrSingular
	}
	if f.chol.Cond() > worstCondition {
		return nil, ErrSingular
	}
	u := f.chol.RawU().(*mat.TriDense)
	f.upper = u.RawTriangular()
	var inv mat.SymDense
	if err := f.chol.InverseTo(&inv); err != nil {
		return nil, ErrSingular
	}
	f.inv = mat.DenseCopyOf(&inv).RawMatrix().Data
	return f, nil
}

// worstCondition is where no digit of a solution is left in double precision.
const worstCondition = 1e15

func (f *denseFactor) solve(b []float64) []float64 {
	if f.n == 0 {
		return nil
	}
	x := blas64.Vector{N: f.n, Inc: 1, Data: slices.Clone(b)}
	blas64.Trsv(blas.Trans, f.upper, x)
	blas64.Trsv(blas.NoTrans, f.upper, x)
	return x.Data
}

func (f *denseFactor) logDet() float64 {
	if f.n == 0 {
		return 0
	}
	return f.chol.LogDet()
}

func (f *denseFactor) at(i, j int) float64 { return f.inv[i*f.n+j] }

// addColumn adds v times a column of the inverse to h.
func (f *denseFactor) addColumn(h []float64, column int, v float64) {
	floats.AddScaled(h, v, f.inv[column*f.n:(column+1)*f.n])
}

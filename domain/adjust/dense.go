package adjust

import "gonum.org/v1/gonum/mat"

// A denseFactor keeps the whole inverse.
type denseFactor struct {
	chol mat.Cholesky
	inv  mat.SymDense
	n    int
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
	if err := f.chol.InverseTo(&f.inv); err != nil {
		return nil, ErrSingular
	}
	return f, nil
}

// worstCondition is where no digit of a solution is left in double precision.
const worstCondition = 1e15

func (f *denseFactor) solve(b []float64) []float64 {
	if f.n == 0 {
		return nil
	}
	var x mat.VecDense
	if err := f.chol.SolveVecTo(&x, mat.NewVecDense(len(b), b)); err != nil {
		if _, ok := err.(mat.Condition); !ok {
			panic(err)
		}
	}
	return x.RawVector().Data
}

func (f *denseFactor) logDet() float64 {
	if f.n == 0 {
		return 0
	}
	return f.chol.LogDet()
}

func (f *denseFactor) at(i, j int) float64 { return f.inv.At(i, j) }

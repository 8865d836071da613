package adjust

import (
	"errors"
	"fmt"

	"delaybook/domain/sparse"
)

// denseColumns is the most columns that are solved by full matrices. Up to it
// the whole inverse costs a few milliseconds and gives the exact expected
// information; beyond it only the inverse inside the pattern of C is known, and
// the average information takes its place.
const denseColumns = 400

// A sparseFactor keeps L D L' and, once it was asked for, the inverse inside
// the pattern of L.
type sparseFactor struct {
	factor  *sparse.Factor
	inverse *sparse.Inverse
}

// factoriseSparse factorises C. Its pattern does not change while variances and
// weights move, so the model keeps the matrix and its analysis.
func (s *State) factoriseSparse() (factor, error) {
	m := s.model
	if m.matrix == nil {
		if err := s.analyse(); err != nil {
			return nil, err
		}
	}
	if err := s.assemble(); err != nil {
		return nil, err
	}
	f, err := m.analysis.Factor(m.matrix)
	if _, ok := errors.AsType[*sparse.PivotError](err); ok {
		return nil, fmt.Errorf("%w: %w", ErrSingular, err)
	}
	if err != nil {
		return nil, err
	}
	return &sparseFactor{factor: f}, nil
}

// assemble puts C into the matrix that the model keeps.
func (s *State) assemble() error {
	s.model.matrix.Clear()
	var err error
	s.each(func(i, j int, v float64) {
		if err == nil {
			err = s.model.matrix.Add(i, j, v)
		}
	})
	return err
}

// analyse finds the pattern of C and the order of elimination.
func (s *State) analyse() error {
	b, err := sparse.NewBuilder(s.model.Columns)
	if err != nil {
		return err
	}
	seen := map[*Term]bool{}
	for g := range s.blocks {
		rows := s.blocks[g].rows
		if len(rows) == 1 && len(rows[0].Terms) > 0 { // rows of one design share their terms
			if seen[&rows[0].Terms[0]] {
				continue
			}
			seen[&rows[0].Terms[0]] = true
		}
		if err := reserve(b, s.blocks[g].cols); err != nil {
			return err
		}
	}
	for _, p := range s.model.Priors {
		var cols []int
		for _, t := range p.Terms {
			cols = append(cols, t.Column)
		}
		if err := reserve(b, cols); err != nil {
			return err
		}
	}
	c, err := b.Build()
	if err != nil {
		return err
	}
	if s.model.analysis, err = sparse.Analyze(c); err != nil {
		return err
	}
	s.model.matrix = c
	return nil
}

// reserve makes places for all pairs of columns.
func reserve(b *sparse.Builder, cols []int) error {
	for k, i := range cols {
		for _, j := range cols[k:] {
			if err := b.Add(i, j, 0); err != nil {
				return err
			}
		}
	}
	return nil
}

func (f *sparseFactor) solve(b []float64) []float64 {
	x, err := f.factor.Solve(b)
	if err != nil {
		panic(err) // the caller's fault: a right-hand side of another length
	}
	return x
}

func (f *sparseFactor) logDet() float64 { return f.factor.LogDet() }

func (f *sparseFactor) at(i, j int) float64 {
	if f.inverse == nil {
		f.inverse = f.factor.Inverse()
	}
	v, ok := f.inverse.At(i, j)
	if !ok {
		panic(fmt.Sprintf("adjust: element (%d, %d) lies outside the pattern", i, j))
	}
	return v
}

// averageInformation adds the average of observed and expected information,
//
//	AI_ij = 1/2 f_i'P f_j,   f_i = V_i P y
//
// which needs one solve a param instead of the inverse between all pairs of
// rows (A. R. Gilmour, R. Thompson, B. R. Cullis, Average information REML,
// Biometrics 51, 1995).
func (s *State) averageInformation(out Slope) {
	params := len(s.theta)
	f := make([][][]float64, params)
	used := make([]bool, params)
	for i := range f {
		f[i] = make([][]float64, len(s.blocks))
		for g := range s.blocks {
			f[i][g] = make([]float64, len(s.blocks[g].rows))
		}
	}
	random := map[int]Random{}
	for _, r := range s.model.Random {
		if r.Param >= 0 {
			random[r.Column] = r
		}
	}
	for g := range s.blocks {
		b := &s.blocks[g]
		for t := range b.rows {
			for _, p := range scaled(b.rows[t]) {
				f[p.Param][g][t] += p.Factor * b.py[t]
				used[p.Param] = true
			}
			for _, term := range b.rows[t].Terms {
				if r, ok := random[term.Column]; ok {
					f[r.Param][g][t] += term.Coef * s.x[term.Column] / s.theta[r.Param]
					used[r.Param] = true
				}
			}
		}
	}
	for j := range f {
		if !used[j] {
			continue
		}
		projected := s.project(f[j])
		for i := range j + 1 {
			if used[i] {
				add(out.Info, i, j, dot(f[i], projected)/2)
			}
		}
	}
}

func dot(a, b [][]float64) float64 {
	sum := 0.0
	for g := range a {
		for t := range a[g] {
			sum += a[g][t] * b[g][t]
		}
	}
	return sum
}

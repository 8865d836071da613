package adjust

import (
	"errors"
	"math"
)

// ErrSingular is returned when a fixed column is not determined by rows and
// priors, or variances are so far apart that the equations lose all digits.
var ErrSingular = errors.New("the equations are singular: a column is not determined")

// A State is a model solved at given variances.
type State struct {
	model  *Model
	theta  []float64
	blocks []block
	lone   []lone        // what the blocks of one row are of
	design map[*Term]int // index in lone, by the first of its terms
	fac    factor
	x      []float64
}

// A lone design is what rows without levels, each in a block of its own, have in
// common: their terms, and the sum of their weights 1/d. A book has many
// measurements of few pairs.
type lone struct {
	terms  []Term
	weight float64
}

// alone adds a block to its lone design, if it has one.
func (s *State) alone(b *block) {
	if !b.alone() {
		return
	}
	first := &b.rows[0].Terms[0]
	i, ok := s.design[first]
	if !ok {
		i = len(s.lone)
		s.design[first] = i
		s.lone = append(s.lone, lone{terms: b.rows[0].Terms})
	}
	s.lone[i].weight += b.w[0]
}

// A factor is the factorised C.
type factor interface {
	solve(b []float64) []float64
	logDet() float64
	// at returns an element of the inverse inside the pattern of C.
	at(i, j int) float64
}

// Solve solves m at the variances theta. It keeps m and theta, which must not
// change any more.
func Solve(m *Model, theta []float64) (*State, error) { return solveAt(m, theta, theta) }

// solveAt is Solve with the rows outside the information at other variances.
func solveAt(m *Model, theta, outside []float64) (*State, error) {
	if err := m.Check(len(theta)); err != nil {
		return nil, err
	}
	s := &State{model: m, theta: theta, blocks: make([]block, len(m.Blocks)), design: map[*Term]int{}}
	from := &store{columns: map[*Term][]int{}}
	for g := range m.Blocks {
		b, err := newBlock(&m.Blocks[g], theta, outside, from)
		if err != nil {
			return nil, err
		}
		s.blocks[g] = b
		s.alone(&s.blocks[g])
	}
	fac, err := s.factorise()
	if err != nil {
		return nil, err
	}
	s.fac = fac
	s.x = fac.solve(s.rightHandSide())
	for g := range s.blocks {
		b := &s.blocks[g]
		e := from.take(len(b.rows))
		b.apply(e, s.x)
		for t := range e {
			e[t] = b.rows[t].Y - e[t]
		}
		b.inverse(e, e)
		b.py = e
	}
	return s, nil
}

// randomVariance returns the variance of a random column.
func (s *State) randomVariance(r Random) float64 {
	if r.Param >= 0 {
		return s.theta[r.Param]
	}
	return r.Known
}

// each visits the upper triangle of C, entry by entry as it adds up.
func (s *State) each(add func(i, j int, v float64)) {
	for _, l := range s.lone {
		for _, a := range l.terms {
			for _, b := range l.terms {
				if b.Column >= a.Column {
					add(a.Column, b.Column, l.weight*a.Coef*b.Coef)
				}
			}
		}
	}
	for g := range s.blocks {
		b := &s.blocks[g]
		if b.alone() {
			continue
		}
		for t := range b.rows {
			row := b.row(t)
			for _, term := range b.rows[t].Terms {
				for j, col := range b.cols {
					if col >= term.Column && row[j] != 0 {
						add(term.Column, col, term.Coef*row[j])
					}
				}
			}
		}
	}
	for _, p := range s.model.Priors {
		for _, a := range p.Terms {
			for _, b := range p.Terms {
				if b.Column >= a.Column {
					add(a.Column, b.Column, a.Coef*b.Coef/p.Variance)
				}
			}
		}
	}
	for _, r := range s.model.Random {
		add(r.Column, r.Column, 1/s.randomVariance(r))
	}
}

func (s *State) rightHandSide() []float64 {
	rhs := make([]float64, s.model.Columns)
	for g := range s.blocks {
		b := &s.blocks[g]
		for t := range b.rows {
			for j, v := range b.row(t) {
				rhs[b.cols[j]] += v * b.rows[t].Y
			}
		}
	}
	for _, p := range s.model.Priors {
		for _, t := range p.Terms {
			rhs[t.Column] += t.Coef * p.Value / p.Variance
		}
	}
	return rhs
}

// X returns the solution, one value a column.
func (s *State) X() []float64 { return s.x }

// logLikelihood returns the restricted log likelihood without the prior and
// within parts, up to a constant.
func (s *State) logLikelihood() float64 {
	l := s.fac.logDet()
	var fit []float64
	for g := range s.blocks {
		b := &s.blocks[g]
		l += b.log
		fit = append(fit[:0], b.py...)
		b.apply(fit, s.x)
		for t := range fit {
			l += (b.rows[t].Y - fit[t]) * b.py[t]
		}
	}
	for _, r := range s.model.Random {
		v := s.randomVariance(r)
		l += math.Log(v) + s.x[r.Column]*s.x[r.Column]/v
	}
	for _, p := range s.model.Priors {
		e := p.Value
		for _, t := range p.Terms {
			e -= t.Coef * s.x[t.Column]
		}
		l += e * e / p.Variance
	}
	return -l / 2
}

// Theta returns the variances that s was solved at.
func (s *State) Theta() []float64 { return s.theta }

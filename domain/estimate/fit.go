package estimate

import (
	"slices"

	"delaybook/domain/adjust"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Fit estimates the variances of a book by penalised restricted likelihood,
// starting from those in use, and returns the book solved at them.
//
// Measurements that contradict the rest are flagged at the variances being
// fitted. Then the scatter of the free pairs is tested against their known
// phase; where it fails, the phase is estimated, or left out, and all is fitted
// again.
func Fit(b Book) (*Solution, error) {
	n, err := newNetwork(&b)
	if err != nil {
		return nil, err
	}
	s, err := n.fit()
	if err != nil {
		return nil, err
	}
	test, ok := s.ClassTest()
	if !ok || test.Phase == n.registry.phase() {
		return s, nil
	}
	b.Variances = retested(n.registry.list, test.Phase)
	if n, err = newNetwork(&b); err != nil {
		return nil, err
	}
	return n.fit()
}

// retested returns variances with the phase rule that a class test found, and
// the free class begun anew under it.
func retested(list []Variance, phase PhaseRule) []Variance {
	out := slices.Clone(list)
	for i := range out {
		if out[i].Class == freeClass {
			out[i].Phase = phase
			out[i].NuPrior = frameNu
			out[i].MS2 = out[i].PriorMS2
			if phase == PhaseKnown {
				out[i].NuPrior = usualNu
			}
		}
	}
	return out
}

// fit fits the variances of all components together.
func (n *network) fit() (*Solution, error) {
	params := n.registry.params()
	models := make([]*adjust.Model, len(n.components))
	for i, c := range n.components {
		models[i] = c.model(func(class string) int { return n.registry.index[class] })
	}
	var fitted *adjust.Fitted
	states, err := adjust.Robust(models, func(models []*adjust.Model) ([]*adjust.State, error) {
		var err error
		if fitted, err = adjust.Fit(models, params); err != nil {
			return nil, err
		}
		return fitted.States, nil
	})
	if err != nil {
		return nil, err
	}
	for i, p := range fitted.Params {
		n.registry.list[i].MS2 = p.Value
	}
	s := &Solution{network: n, parts: map[*component]*part{}, params: n.registry.params(), info: mat.NewSymDense(max(1, len(params)), nil)}
	all := make([]int, len(params))
	for i := range all {
		all[i] = i
	}
	for i, c := range n.components {
		p := &part{model: models[i], state: states[i], slope: states[i].Slope(), params: all}
		p.deleted = byBlock(p.model, states[i].Deleted())
		s.parts[c] = p
		s.info.AddSym(s.info, p.slope.Info)
	}
	s.uncertainty, err = adjust.NewUncertainty(s.params, s.info)
	return s, err
}

// Variances returns the variances that the solution stands on, those of the
// book first.
func (s *Solution) Variances() []Variance { return slices.Clone(s.network.registry.list) }

// PooledDF returns the degrees of freedom behind the variances. They are worth
// fitting again when it has grown by a tenth.
func (s *Solution) PooledDF() float64 {
	return pooledDF(s.params, func(i int) float64 { return s.info.At(i, i) })
}

// The levels of the class test.
const (
	testLow  = 0.01
	testHigh = 0.99
)

// ClassTest compares the scatter of the free pairs, doubtful measurements left
// out, with what their declared phase and the priors explain: Q is chi-squared
// with Nu degrees of freedom. It is false below 2 degrees of freedom.
func (s *Solution) ClassTest() (ClassTest, bool) {
	t := ClassTest{Class: freeClass}
	for _, c := range s.network.components {
		q, nu := s.classScatter(c)
		t.Q += q
		t.Nu += nu
	}
	if t.Nu < 2 {
		return ClassTest{}, false
	}
	chi := distuv.ChiSquared{K: t.Nu}
	t.Low, t.High = chi.Quantile(testLow), chi.Quantile(testHigh)
	switch {
	case t.Q > t.High:
		t.Phase = PhaseRejected
	case t.Q < t.Low:
		t.Phase = PhaseAbsent
	}
	return t, true
}

// classScatter is the generalised sum of squares of the free rows of a component
// about the means of their design rows, and its degrees of freedom.
func (s *Solution) classScatter(c *component) (q, nu float64) {
	m := &adjust.Model{}
	part := s.parts[c]
	designs := map[string]int{}
	rows := 0
	for b, indexes := range c.blocks {
		var block adjust.Block
		level := map[string]int{}
		var members []*observation
		for t, i := range indexes {
			if o := c.rows[i]; o.pair.class().name == freeClass && !part.model.Blocks[b].Rows[t].Outside {
				members = append(members, o)
			}
		}
		for _, o := range members {
			for _, ph := range o.pair.phases() {
				if _, ok := level[ph.clock]; !ok {
					level[ph.clock] = len(block.Levels)
					block.Levels = append(block.Levels, adjust.Level{Variance: uniformVariance(ph.frameMS)})
				}
			}
		}
		for _, o := range members {
			design := o.design()
			if _, ok := designs[design]; !ok {
				designs[design] = len(designs)
			}
			row := adjust.Row{
				Terms: []adjust.Term{{Column: designs[design], Coef: 1}}, Y: o.y, Known: o.knownVar() + usualPrior, Weight: 1,
				Signs: make([]float64, len(block.Levels)),
			}
			if o.read != "" {
				row.Known += usualPrior / o.n
			}
			for _, ph := range o.pair.phases() {
				row.Signs[level[ph.clock]] = float64(ph.sign)
			}
			block.Rows = append(block.Rows, row)
			rows++
		}
		if len(members) > 0 {
			m.Blocks = append(m.Blocks, block)
		}
	}
	m.Columns = len(designs)
	nu = float64(rows - len(designs))
	if nu <= 0 {
		return 0, 0
	}
	state, err := adjust.Solve(m, nil)
	if err != nil {
		return 0, 0
	}
	return state.Quadratic(), nu
}

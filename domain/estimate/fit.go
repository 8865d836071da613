package estimate

import (
	"slices"

	"delaybook/domain/adjust"

	"gonum.org/v1/gonum/stat/distuv"
)

// Fit estimates the variances of a book by penalised restricted likelihood,
// starting from those in use, and returns the book solved at them.
//
// Measurements that contradict the rest are flagged at the variances being
// fitted. Then the scatter of the free pairs is tested against their known
// phase; where it fails, the phase is estimated, or left out, and all is fitted
// again. adjust.ErrUnsettled says that the data are beyond what the priors
// expect: the variances in use may stay in use.
func Fit(b Book) (*Solution, error) {
	n, err := newReader().network(&b)
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
	b.Variances = n.retested(test.Phase)
	if n, err = newReader().network(&b); err != nil {
		return nil, err
	}
	return n.fit()
}

// retested returns variances with the phase rule that a class test found, and
// the free class begun anew under it: with its usual prior; where the phase is
// estimated, with the variance of the declared one for two measurements; where
// there is none, with the usual variance for two.
func (n *network) retested(phase PhaseRule) []Variance {
	out := slices.Clone(n.registry.list)
	for i := range out {
		if out[i].Class != freeClass {
			continue
		}
		out[i].Phase, out[i].PriorMS2, out[i].NuPrior = phase, usualPrior, frameNu
		switch phase {
		case PhaseKnown:
			out[i].NuPrior = usualNu
		case PhaseRejected:
			out[i].PriorMS2 = n.declaredPhase()
		}
		out[i].MS2 = out[i].PriorMS2
	}
	return out
}

// declaredPhase returns the mean variance that the declared phases of the free
// pairs have.
func (n *network) declaredPhase() float64 {
	sum, count := 0.0, 0
	for _, o := range n.all {
		if o.take.name != freeClass {
			continue
		}
		count++
		for _, ph := range o.pair.phases() {
			sum += uniformVariance(ph.frameMS) * float64(ph.sign*ph.sign)
		}
	}
	if sum == 0 {
		return usualPrior
	}
	return sum / float64(count)
}

// fit fits the variances of all components together and solves at them. The
// solution is a cold one, so that the book with the fitted variances in use
// repeats it: which measurements contradict the rest is asked again.
func (n *network) fit() (*Solution, error) {
	params := n.registry.params()
	models := make([]*adjust.Model, len(n.components))
	for i, c := range n.components {
		models[i] = c.model(func(class string) int { return n.registry.index[class] })
	}
	fitted := params
	_, err := adjust.Robust(models, func(models []*adjust.Model) ([]*adjust.State, error) {
		f, err := adjust.Fit(models, params)
		if err != nil {
			return nil, err
		}
		fitted = f.Params
		return f.States, nil
	})
	if err != nil {
		return nil, err
	}
	for i, p := range fitted {
		n.registry.list[i].MS2 = p.Value
	}
	return n.solve(nil)
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
//
// The phase is called wrong only when the scatter between power-ups says so too,
// apart from that of measurements that share one: Q alone also rejects where the
// phase is right and other scatter is not what its prior says.
func (s *Solution) ClassTest() (ClassTest, bool) {
	t := ClassTest{Class: freeClass}
	var all, analysed scatterTest
	for _, c := range s.network.components {
		s.classScatter(c, &all, func(*observation) bool { return true })
		s.classScatter(c, &analysed, func(o *observation) bool { return o.first().style != counted })
	}
	if all.total.nu < 2 {
		return ClassTest{}, false
	}
	t.Q, t.Nu = all.total.q, all.total.nu
	t.Low, t.High = all.total.quantile(testLow), all.total.quantile(testHigh)
	switch {
	case all.above(testHigh):
		t.Phase = PhaseRejected
	case analysed.below(testLow):
		// Readings by eye are left out here. Whole frames of a phase below one
		// frame take two values, so that half of all triples agree exactly: with
		// them the test calls half of all free cameras locked, and the interval
		// that follows covers 75 to 86 %.
		t.Phase = PhaseAbsent
	}
	return t, true
}

// scattered is a sum of squares that is chi-squared with nu degrees of freedom
// when the variances hold.
type scattered struct{ q, nu float64 }

func (s scattered) quantile(p float64) float64 { return distuv.ChiSquared{K: s.nu}.Quantile(p) }

// scatterTest holds the scatter of rows in all and that between power-ups.
type scatterTest struct{ total, between scattered }

func (t scatterTest) above(p float64) bool {
	return t.between.nu >= 2 && t.total.q > t.total.quantile(p) && t.between.q > t.between.quantile(p)
}

func (t scatterTest) below(p float64) bool {
	return t.between.nu >= 2 && t.total.q < t.total.quantile(p) && t.between.q < t.between.quantile(p)
}

// classScatter adds the generalised sum of squares of the free rows of a
// component that count, about the means of their design rows.
func (s *Solution) classScatter(c *component, to *scatterTest, counts func(*observation) bool) {
	m := &adjust.Model{}
	part := s.parts[c]
	designs := map[testDesign]int{}
	for b, indexes := range c.blocks {
		var members []*observation
		for t, i := range indexes {
			if o := c.rows[i]; o.pair.class().name == freeClass && !part.model.Blocks[b].Rows[t].Outside && counts(o) {
				members = append(members, o)
			}
		}
		if len(members) > 0 {
			m.Blocks = append(m.Blocks, testBlock(members, designs, s.network.registry))
		}
	}
	m.Columns = len(designs)
	nu := float64(m.Rows() - m.Columns)
	if nu <= 0 {
		return
	}
	state, err := adjust.Solve(m, nil)
	if err != nil {
		return // variances that no test can rest on
	}
	q, nuWithin, err := withinScatter(m)
	if err != nil {
		return
	}
	to.total.q += state.Quadratic()
	to.total.nu += nu
	to.between.q += state.Quadratic() - q
	to.between.nu += nu - nuWithin
}

// A testDesign is what the design rows of a class test differ in.
type testDesign struct{ stages, card, eyeLevel string }

// testBlock is a block of the class test: known phases, all else at its prior,
// one column a design row, numbered in designs.
func testBlock(members []*observation, designs map[testDesign]int, r *registry) adjust.Block {
	var block adjust.Block
	level := map[string]int{}
	for _, o := range members {
		for _, ph := range o.pair.phases() {
			if _, ok := level[ph.clock]; !ok {
				level[ph.clock] = len(block.Levels)
				block.Levels = append(block.Levels, adjust.Level{Variance: uniformVariance(ph.frameMS)})
			}
		}
	}
	for _, o := range members {
		design := testDesign{o.pair.stages, o.card, o.eyeLevel}
		if _, ok := designs[design]; !ok {
			designs[design] = len(designs)
		}
		row := adjust.Row{
			Terms: []adjust.Term{{Column: designs[design], Coef: 1}}, Y: o.y, Known: o.knownVar() + r.testPrior(), Weight: 1,
			Signs: make([]float64, len(block.Levels)),
		}
		if o.read != "" {
			row.Known += r.variance(readClassOf(o.read)).PriorMS2 / o.n
		}
		for _, ph := range o.pair.phases() {
			row.Signs[level[ph.clock]] = float64(ph.sign)
		}
		block.Rows = append(block.Rows, row)
	}
	return block
}

// testPrior is the prior of what a free pair scatters beside its phase. Where
// the phase is not the declared one, the prior in use stands for the phase too.
func (r *registry) testPrior() float64 {
	if r.phase() != PhaseKnown {
		return usualPrior
	}
	return r.variance(class{freeClass, usualPrior, usualNu}).PriorMS2
}

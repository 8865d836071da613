package estimate

import (
	"errors"
	"fmt"
	"slices"
	"sync"

	"delaybook/domain/adjust"

	"gonum.org/v1/gonum/mat"
)

// A Solution is a book solved at its variances in use. It does not change.
type Solution struct {
	network     *network
	parts       map[*component]*part
	params      []adjust.Param
	uncertainty *adjust.Uncertainty
	info        *mat.SymDense
	places      func() map[string]place // of measurements by ID, found once
}

// A part is a solved component.
type part struct {
	model   *adjust.Model
	state   *adjust.State
	deleted [][]adjust.Deleted // by block and row
	params  []int              // index in the registry of each param of the model
	slope   adjust.Slope
	all     *adjust.State // solved with every row in full, where one is flagged; else nil
}

// Solve reads a book and solves it at its variances in use: nothing is fitted.
// Equal books give equal digits. An *InputError names what is wrong with the
// book and what to send instead.
func Solve(b Book) (*Solution, error) { return SolveCached(b, nil) }

// SolveCached is Solve, taking components from a cache that have neither changed
// nor have other variances in use, and adding the others. The digits are those
// of Solve.
func SolveCached(b Book, cache *Cache) (*Solution, error) {
	reader := newReader()
	if cache != nil {
		reader = cache.reader
	}
	n, err := reader.network(&b)
	if err != nil {
		return nil, err
	}
	return n.solve(cache)
}

func (n *network) solve(cache *Cache) (*Solution, error) {
	s := &Solution{network: n, parts: map[*component]*part{}, params: n.registry.params()}
	s.places = sync.OnceValue(n.findPlaces)
	s.info = mat.NewSymDense(max(1, len(s.params)), nil)
	for _, c := range n.components {
		p, err := n.solveComponent(c, cache)
		if err != nil {
			return nil, err
		}
		s.parts[c] = p
		for i, gi := range p.params {
			for j := i; j < len(p.params); j++ {
				gj := p.params[j]
				s.info.SetSym(gi, gj, s.info.At(gi, gj)+p.slope.Info.At(i, j))
			}
		}
	}
	var err error
	s.uncertainty, err = adjust.NewUncertainty(s.params, s.info, n.twins()...)
	return s, err
}

// solveComponent solves a component with params of its own, so that nothing in
// the part depends on the rest of the book.
func (n *network) solveComponent(c *component, cache *Cache) (*part, error) {
	p := &part{}
	local := map[string]int{}
	var theta []float64
	for i, name := range c.classes {
		local[name] = i
		p.params = append(p.params, n.registry.index[name])
		theta = append(theta, n.registry.list[n.registry.index[name]].MS2)
	}
	if last := c.last.Load(); last != nil && slices.Equal(last.theta, theta) {
		return last.part.at(p.params), nil
	}
	param := func(class string) int { return local[class] }
	p.model = c.model(param)
	key := fingerprint(p.model, theta)
	if kept := cache.get(key); kept != nil {
		c.last.Store(&solved{theta, kept})
		return kept.at(p.params), nil
	}
	states, err := adjust.Robust([]*adjust.Model{p.model}, func(models []*adjust.Model) ([]*adjust.State, error) {
		state, err := adjust.Solve(models[0], theta)
		return []*adjust.State{state}, err
	})
	if err != nil {
		return nil, c.explain(err)
	}
	p.state, p.slope = states[0], states[0].Slope()
	p.deleted = byBlock(p.model, states[0].Deleted())
	if p.model.Flagged() {
		if p.all, err = adjust.Solve(c.model(param), theta); err != nil {
			return nil, c.explain(err)
		}
	}
	cache.put(key, p)
	c.last.Store(&solved{theta, p})
	return p, nil
}

// solved is a component solved at variances.
type solved struct {
	theta []float64
	part  *part
}

// at returns the part with its params elsewhere in the registry.
func (p *part) at(params []int) *part {
	out := *p
	out.params = params
	return &out
}

func byBlock(m *adjust.Model, all []adjust.Deleted) [][]adjust.Deleted {
	out := make([][]adjust.Deleted, len(m.Blocks))
	for _, d := range all {
		out[d.Block] = append(out[d.Block], d)
	}
	return out
}

// explain says which rows a numerical failure is about.
func (c *component) explain(err error) error {
	if !errors.Is(err, adjust.ErrSingular) {
		return err
	}
	name := "stated values"
	if len(c.rows) > 0 {
		name = "measurement " + c.rows[0].id() + " and those tied to it"
	}
	return fmt.Errorf("%s cannot be solved; look for uncertainties or variances that differ by more than a million times: %w", name, err)
}

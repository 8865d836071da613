package estimate

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"delaybook/domain/adjust"
	"delaybook/domain/exact"
	"delaybook/domain/law"
)

// A wanted sum of latencies and of the deviations of single units.
type wanted struct {
	columns map[string]int
	units   map[string]int
	kinds   map[string]string
}

// A found sum: its contrast over all components, with the parts behind it.
type found struct {
	sum   *adjust.Contrast
	parts []foundPart
	fresh map[string]float64 // by class: variance added for units that no row has
}

type foundPart struct {
	component *component
	part      *part
	contrast  *adjust.Contrast
}

// missing returns the columns that keep a sum from being determined: those in no
// row, else those of the components whose rows do not determine it.
func (s *Solution) missing(w wanted) []string {
	var out []string
	split := s.byComponent(w.columns)
	for c, terms := range split {
		if c != nil {
			if ok, err := c.system.Estimable(terms); ok && err == nil || split[nil] != nil {
				continue
			}
		}
		for name := range w.columns {
			if s.network.of[name] == c {
				out = append(out, name)
			}
		}
	}
	slices.Sort(out)
	return out
}

// byComponent splits a sum; the nil component has the columns in no row.
func (s *Solution) byComponent(columns map[string]int) map[*component][]exact.Term {
	out := map[*component][]exact.Term{}
	for _, name := range slices.Sorted(maps.Keys(columns)) {
		c := s.network.of[name]
		if c == nil {
			out[nil] = append(out[nil], exact.Term{Coef: int64(columns[name])})
			continue
		}
		out[c] = append(out[c], exact.Term{Column: c.fixed[name], Coef: int64(columns[name])})
	}
	return out
}

// find returns the contrast of a sum that is determined.
func (s *Solution) find(w wanted) *found {
	return s.findIn(w, func(p *part) *adjust.State { return p.state })
}

// findAll is find as if no measurement were doubtful; nil where none is that
// bears on the sum.
func (s *Solution) findAll(w wanted) *found {
	doubtful := func(of map[string]*component, names map[string]int) bool {
		for name := range names {
			if c := of[name]; c != nil && s.parts[c].all != nil {
				return true
			}
		}
		return false
	}
	if !doubtful(s.network.of, w.columns) && !doubtful(s.network.ofUnit, w.units) {
		return nil
	}
	return s.findIn(w, func(p *part) *adjust.State {
		if p.all == nil {
			return p.state
		}
		return p.all
	})
}

func (s *Solution) findIn(w wanted, state func(*part) *adjust.State) *found {
	f := &found{sum: adjust.NewContrast(len(s.params)), fresh: map[string]float64{}}
	terms := map[*component][]adjust.Term{}
	for _, name := range slices.Sorted(maps.Keys(w.columns)) {
		c := s.network.of[name]
		if col, ok := c.solved[name]; ok {
			terms[c] = append(terms[c], adjust.Term{Column: col, Coef: float64(w.columns[name])})
		}
	}
	for _, name := range slices.Sorted(maps.Keys(w.units)) {
		v := float64(w.units[name])
		c := s.network.ofUnit[name]
		if c == nil {
			f.fresh[unitClass+w.kinds[name]] += v * v
			continue
		}
		terms[c] = append(terms[c], adjust.Term{Column: c.units[name], Coef: v})
	}
	for _, c := range s.network.components { // in their order: sums keep their digits
		if len(terms[c]) == 0 {
			continue
		}
		p := s.parts[c]
		contrast := state(p).Contrast(terms[c])
		f.parts = append(f.parts, foundPart{c, p, contrast})
		f.sum.Add(contrast.Spread(p.params, len(s.params)))
	}
	for _, class := range slices.Sorted(maps.Keys(f.fresh)) {
		s.addClass(f.sum, classByName(class), f.fresh[class])
	}
	return f
}

func classByName(name string) class { return class{name, usualPrior, usualNu} }

// addClass adds an error of a variance class, in use or at its prior.
func (s *Solution) addClass(c *adjust.Contrast, cl class, factor float64) {
	if factor == 0 {
		return
	}
	if i, ok := s.network.registry.index[cl.name]; ok {
		c.AddVariance(s.theta(), i, factor)
		return
	}
	c.AddPrior(adjust.Param{Value: cl.prior, Scale: cl.prior, Nu: cl.nu}, factor)
}

// theta returns the variances in use, as adjust takes them.
func (s *Solution) theta() []float64 {
	out := make([]float64, len(s.params))
	for i, p := range s.params {
		out[i] = p.Value
	}
	return out
}

// estimate puts a law round a contrast.
func (s *Solution) estimate(c *adjust.Contrast, shift float64) (*Estimate, error) {
	variance, df := s.uncertainty.Adjusted(c)
	l, err := law.FromMoments(variance, c.Kappa, df)
	if err != nil {
		return nil, fmt.Errorf("%v +- %v ms: %w", c.Value+shift, math.Sqrt(variance), err)
	}
	value, half := c.Value+shift, l.HalfWidth95()
	return &Estimate{ValueMS: value, SEMS: math.Sqrt(variance), DF: df, Interval: [2]float64{value - half, value + half}, Law: l}, nil
}

// cardShare returns the largest variance that the prior of one card source
// contributes, and whether an unnamed source takes part.
func (f *found) cardShare() (largest float64, unnamed bool) {
	for _, fp := range f.parts {
		for i, p := range fp.component.pseudo {
			if !p.card {
				continue
			}
			v := fp.contrast.Priors[i] * fp.contrast.Priors[i] * p.variance
			largest = max(largest, v)
			unnamed = unnamed || p.unnamed && math.Abs(fp.contrast.Priors[i]) > negligibleWeight
		}
	}
	return largest, unnamed
}

// negligibleWeight is a weight that is rounding: an entry that moves by a second
// moves the offset by a nanosecond.
const negligibleWeight = 1e-9

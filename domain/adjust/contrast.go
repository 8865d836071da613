package adjust

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Contrast is what one component contributes to a wanted sum of columns. Sums
// over several components add by Add.
type Contrast struct {
	Value    float64
	Variance float64       // M, at the variances in use
	Slopes   []float64     // derivatives of M by theta
	Cross    *mat.SymDense // f_i'P f_j
	Kappa    float64       // fourth cumulant of the error
	Weights  [][]float64   // of each row's y, by block
	Levels   [][]float64   // coefficient of each level in the error, by block
	Random   []float64     // coefficient of each random column's effect in the error
	Priors   []float64     // weight of each prior's value

	// Of errors whose variance only its prior knows: that variance, and 2
	// theta^2/nu slope^2.
	outsideVariance, outside float64
}

// NewContrast returns an empty sum for a number of params.
func NewContrast(params int) *Contrast {
	return &Contrast{Slopes: make([]float64, params), Cross: mat.NewSymDense(max(1, params), nil)}
}

// Add adds the value, variance, slopes, cross terms and cumulant of a contrast
// of another component.
func (c *Contrast) Add(o *Contrast) {
	c.Value += o.Value
	c.Variance += o.Variance
	c.Kappa += o.Kappa
	c.outsideVariance += o.outsideVariance
	c.outside += o.outside
	for i, v := range o.Slopes {
		c.Slopes[i] += v
	}
	c.Cross.AddSym(c.Cross, o.Cross)
}

// AddVariance adds an independent error of estimated variance factor*theta,
// such as a unit or a power-up never seen.
func (c *Contrast) AddVariance(theta []float64, param int, factor float64) {
	c.Variance += factor * theta[param]
	c.Slopes[param] += factor
}

// AddPrior adds an independent error of variance factor*p.Value whose param
// belongs to no model: only its prior of p.Nu pseudo-observations knows it.
func (c *Contrast) AddPrior(p Param, factor float64) {
	c.Variance += factor * p.Value
	c.outsideVariance += factor * p.Value
	c.outside += factor * factor * 2 * p.Value * p.Value / p.Nu
}

// AddKnown adds an independent error of known variance and fourth cumulant.
func (c *Contrast) AddKnown(variance, kappa float64) {
	c.Variance += variance
	c.Kappa += kappa
}

// Clone returns a copy whose sums may be added to.
func (c *Contrast) Clone() *Contrast {
	out := NewContrast(len(c.Slopes))
	out.Add(c)
	return out
}

// Contrast returns the wanted sum of columns. Terms on random columns predict
// those effects. With g = C^-1 k and a = R^-1 W g it holds
//
//	M = k'g,   dM_i = sum of a_t^2 d_ti, for random columns (Z'a - k)'(Z'a - k)
//	f_i = V_i a - Z_i k_i,   Cross_ij = f_i'P f_j
func (s *State) Contrast(terms []Term) *Contrast {
	k := make([]float64, s.model.Columns)
	for _, t := range terms {
		k[t.Column] += t.Coef
	}
	c := NewContrast(len(s.theta))
	g := s.fac.solve(k)
	for i, v := range k {
		c.Value += v * s.x[i]
		c.Variance += v * g[i]
	}
	za := s.rowWeights(c, g)
	s.randomWeights(c, k, za)
	for _, p := range s.model.Priors {
		v := 0.0
		for _, t := range p.Terms {
			v += t.Coef * g[t.Column]
		}
		c.Priors = append(c.Priors, v/p.Variance)
	}
	s.crossTerms(c)
	return c
}

// rowWeights fills the weights of rows and levels and returns W'a.
func (s *State) rowWeights(c *Contrast, g []float64) []float64 {
	za := make([]float64, s.model.Columns)
	for i := range s.blocks {
		b := &s.blocks[i]
		a := make([]float64, len(b.rows))
		levels := make([]float64, len(s.model.Blocks[i].Levels))
		for t := range b.rows {
			row := &b.rows[t]
			for j, v := range b.row(t) {
				a[t] += v * g[b.cols[j]]
			}
			for _, term := range row.Terms {
				za[term.Column] += term.Coef * a[t]
			}
			for l, sign := range row.Signs {
				levels[l] += sign * a[t]
			}
			c.Kappa += math.Pow(a[t], 4) * row.Kappa
			for _, p := range scaled(*row) {
				c.Slopes[p.Param] += p.Factor * a[t] * a[t]
			}
		}
		for l, v := range levels {
			c.Kappa += math.Pow(v, 4) * s.model.Blocks[i].Levels[l].Kappa
		}
		c.Weights = append(c.Weights, a)
		c.Levels = append(c.Levels, levels)
	}
	return za
}

func (s *State) randomWeights(c *Contrast, k, za []float64) {
	for _, r := range s.model.Random {
		v := za[r.Column] - k[r.Column]
		c.Random = append(c.Random, v)
		if r.Param >= 0 {
			c.Slopes[r.Param] += v * v
		} else {
			c.Kappa += math.Pow(v, 4) * r.Kappa
		}
	}
}

// crossTerms computes f_i'P f_j for the params with a part in the contrast.
func (s *State) crossTerms(c *Contrast) {
	f := map[int][][]float64{}
	var order []int
	at := func(param int) [][]float64 {
		if f[param] == nil {
			f[param] = make([][]float64, len(s.blocks))
			for g := range s.blocks {
				f[param][g] = make([]float64, len(s.blocks[g].rows))
			}
			order = append(order, param)
		}
		return f[param]
	}
	for g := range s.blocks {
		for t := range s.blocks[g].rows {
			for _, p := range scaled(s.blocks[g].rows[t]) {
				at(p.Param)[g][t] += p.Factor * c.Weights[g][t]
			}
		}
	}
	random := s.randomOf(c)
	for g := range s.blocks {
		for t := range s.blocks[g].rows {
			for _, term := range s.blocks[g].rows[t].Terms {
				if r, ok := random[term.Column]; ok {
					at(r.Param)[g][t] += term.Coef * r.Known
				}
			}
		}
	}
	projected := make([][][]float64, len(order))
	for i, param := range order {
		projected[i] = s.project(f[param])
		for j := range i + 1 {
			v := 0.0
			for g, row := range f[order[j]] {
				for t := range row {
					v += row[t] * projected[i][g][t]
				}
			}
			c.Cross.SetSym(param, order[j], v)
		}
	}
}

// randomOf returns the columns of estimated variance with their coefficient in
// the error, in Known.
func (s *State) randomOf(c *Contrast) map[int]Random {
	out := map[int]Random{}
	for i, r := range s.model.Random {
		if r.Param >= 0 && c.Random[i] != 0 {
			out[r.Column] = Random{Column: r.Column, Param: r.Param, Known: c.Random[i]}
		}
	}
	return out
}

// project returns P f.
func (s *State) project(f [][]float64) [][]float64 {
	rhs := make([]float64, s.model.Columns)
	for g := range s.blocks {
		b := &s.blocks[g]
		for t, v := range f[g] {
			for j, w := range b.row(t) {
				rhs[b.cols[j]] += v * w
			}
		}
	}
	x := s.fac.solve(rhs)
	out := make([][]float64, len(s.blocks))
	from := &store{}
	for g := range s.blocks {
		b := &s.blocks[g]
		v := from.take(len(b.rows))
		b.apply(v, x)
		for t := range v {
			v[t] = f[g][t] - v[t]
		}
		b.inverse(v, v)
		out[g] = v
	}
	return out
}

// Spread returns the sums of a contrast with param i renamed to index[i] of
// params: components may number their params themselves.
func (c *Contrast) Spread(index []int, params int) *Contrast {
	out := NewContrast(params)
	out.Value, out.Variance, out.Kappa = c.Value, c.Variance, c.Kappa
	for i, gi := range index {
		out.Slopes[gi] = c.Slopes[i]
		for j := i; j < len(index); j++ {
			out.Cross.SetSym(gi, index[j], c.Cross.At(i, j))
		}
	}
	return out
}

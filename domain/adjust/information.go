package adjust

import "gonum.org/v1/gonum/mat"

// A Slope is what one component says of the variances: the first derivatives of
// the restricted log likelihood and the expected information, by param.
type Slope struct {
	Score []float64
	Info  *mat.SymDense
}

// newSlope returns zeros.
func newSlope(params int) Slope {
	return Slope{Score: make([]float64, params), Info: mat.NewSymDense(max(1, params), nil)}
}

// Add adds another component.
func (s *Slope) Add(o Slope) {
	for i, v := range o.Score {
		s.Score[i] += v
	}
	s.Info.AddSym(s.Info, o.Info)
}

// A line is a row of R^-1 W with the derivative of its own variance.
type line struct {
	g, t  int
	parts []Part
	h     []float64 // C^-1 W'R^-1 of the row
}

func (s *State) lines() []line {
	var out []line
	for g := range s.blocks {
		b := &s.blocks[g]
		for t := range b.rows {
			if b.rows[t].Outside {
				continue
			}
			out = append(out, line{g: g, t: t, parts: scaled(b.rows[t])})
		}
	}
	return out
}

// scaled returns the derivatives of the own variance of a row.
func scaled(r Row) []Part {
	if r.Outside {
		return nil
	}
	if r.Weight == 1 {
		return r.Parts
	}
	out := make([]Part, len(r.Parts))
	for i, p := range r.Parts {
		out[i] = Part{Param: p.Param, Factor: p.Factor * r.Weight}
	}
	return out
}

// Slope returns score and expected information at the variances of s,
//
//	score_i = -1/2 (tr(P V_i) - y'P V_i P y),   I_ij = 1/2 tr(P V_i P V_j)
//
// without the priors of the params. Rows Outside do not count.
func (s *State) Slope() Slope {
	out := newSlope(len(s.theta))
	s.ownScore(out.Score)
	s.randomScore(out.Score)
	s.model.within(func(w Within) {
		v := s.theta[w.Param]
		out.Score[w.Param] -= (w.DF/v - w.SS/(v*v)) / 2
		add(out.Info, w.Param, w.Param, w.DF/(2*v*v))
	})
	if s.model.Columns > denseColumns {
		s.averageInformation(out)
		return out
	}
	lines := s.lines()
	if dense, ok := s.fac.(*denseFactor); ok {
		for i := range lines {
			lines[i].h = s.column(dense, lines[i])
		}
	}
	s.ownInformation(out.Info, lines)
	s.mixedInformation(out.Info, lines)
	s.randomInformation(out.Info)
	return out
}

func add(m *mat.SymDense, i, j int, v float64) { m.SetSym(i, j, m.At(i, j)+v) }

// column returns C^-1 b for the row b of R^-1 W.
func (s *State) column(fac *denseFactor, l line) []float64 {
	b := &s.blocks[l.g]
	h := make([]float64, s.model.Columns)
	for j, v := range b.row(l.t) {
		if v != 0 {
			fac.addColumn(h, b.cols[j], v)
		}
	}
	return h
}

// loneVariances returns the variance w'C^-1 w of every lone design.
func (s *State) loneVariances() []float64 {
	out := make([]float64, len(s.lone))
	for i, l := range s.lone {
		for _, a := range l.terms {
			for _, b := range l.terms {
				out[i] += a.Coef * b.Coef * s.fac.at(a.Column, b.Column)
			}
		}
	}
	return out
}

// projection returns P_tt of one row, from the inverse inside the pattern and
// the variances of the lone designs.
func (s *State) projection(g, t int, lone []float64) float64 {
	b := &s.blocks[g]
	if b.alone() {
		return max(0, b.w[0]-b.w[0]*b.w[0]*lone[s.design[&b.rows[0].Terms[0]]])
	}
	p := b.inverseAt(t, t)
	row := b.row(t)
	for i, v := range row {
		for j, w := range row {
			if v != 0 && w != 0 {
				p -= v * w * s.fac.at(b.cols[i], b.cols[j])
			}
		}
	}
	return max(0, p)
}

func (s *State) ownScore(score []float64) {
	lone := s.loneVariances()
	for g := range s.blocks {
		b := &s.blocks[g]
		for t := range b.rows {
			parts := scaled(b.rows[t])
			if len(parts) == 0 {
				continue
			}
			v := s.projection(g, t, lone) - b.py[t]*b.py[t]
			for _, p := range parts {
				score[p.Param] -= p.Factor * v / 2
			}
		}
	}
}

func (s *State) randomScore(score []float64) {
	for _, r := range s.model.Random {
		if r.Param < 0 {
			continue
		}
		v, u := s.theta[r.Param], s.x[r.Column]
		score[r.Param] -= (1/v - s.fac.at(r.Column, r.Column)/(v*v) - u*u/(v*v)) / 2
	}
}

func (s *State) ownInformation(info *mat.SymDense, lines []line) {
	for i := range lines {
		for j := i; j < len(lines); j++ {
			p := s.pairProjection(&lines[i], &lines[j])
			p *= p / 2
			if i != j {
				p *= 2
			}
			for _, a := range lines[i].parts {
				for _, b := range lines[j].parts {
					v := p * a.Factor * b.Factor
					if i != j && a.Param != b.Param {
						v /= 2 // the pair stands once above the diagonal of a symmetric sum
					}
					if i == j && a.Param > b.Param {
						continue
					}
					add(info, a.Param, b.Param, v)
				}
			}
		}
	}
}

// pairProjection returns P_st of two rows.
func (s *State) pairProjection(a, b *line) float64 {
	v := 0.0
	if a.g == b.g {
		v = s.blocks[a.g].inverseAt(a.t, b.t)
	}
	block := &s.blocks[a.g]
	for j, w := range block.row(a.t) {
		v -= w * b.h[block.cols[j]]
	}
	return v
}

// mixedInformation uses P Z = R^-1 W C^-1 D^-1 on the random columns.
func (s *State) mixedInformation(info *mat.SymDense, lines []line) {
	for _, r := range s.model.Random {
		if r.Param < 0 {
			continue
		}
		v := s.theta[r.Param]
		for i := range lines {
			pz := lines[i].h[r.Column] / v
			for _, a := range lines[i].parts {
				add(info, a.Param, r.Param, a.Factor*pz*pz/2)
			}
		}
	}
}

// randomInformation uses Z'P Z = D^-1 - D^-1 C^-1 D^-1 on the random columns.
func (s *State) randomInformation(info *mat.SymDense) {
	for i, a := range s.model.Random {
		if a.Param < 0 {
			continue
		}
		va := s.theta[a.Param]
		for j := i; j < len(s.model.Random); j++ {
			b := s.model.Random[j]
			if b.Param < 0 {
				continue
			}
			z := -s.fac.at(a.Column, b.Column) / (va * s.theta[b.Param])
			if i == j {
				z += 1 / va
			}
			z *= z / 2
			if i != j && a.Param == b.Param {
				z *= 2
			}
			add(info, a.Param, b.Param, z)
		}
	}
}

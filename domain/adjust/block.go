package adjust

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// A block is a Block at given variances: its levels are eliminated.
type block struct {
	rows []Row
	cols []int     // columns of the rows, ascending
	w    []float64 // 1/d
	inv  []float64 // (Phi^-1 + L'D^-1 L)^-1, levels x levels; nil without levels
	b    []float64 // R^-1 W, rows x cols
	py   []float64 // R^-1 (y - W x)
	log  float64   // log|R|
}

// ownVariance returns d.
func (r *Row) ownVariance(theta []float64) float64 {
	v := r.Known
	for _, p := range r.Parts {
		v += p.Factor * theta[p.Param]
	}
	return r.Weight * v
}

// A store hands out slices of numbers cut from large ones, and the columns of
// rows that share their terms.
type store struct {
	free    []float64
	columns map[*Term][]int
}

func (s *store) take(n int) []float64 {
	const chunk = 1 << 12
	if n > len(s.free) {
		s.free = make([]float64, max(n, chunk))
	}
	out := s.free[:n:n]
	s.free = s.free[n:]
	return out
}

func newBlock(src *Block, theta, outside []float64, from *store) (block, error) {
	g := block{rows: src.Rows, w: from.take(len(src.Rows))}
	for t := range g.rows {
		at := theta
		if g.rows[t].Outside {
			at = outside
		}
		d := g.rows[t].ownVariance(at)
		g.w[t] = 1 / d
		g.log += math.Log(d)
	}
	if err := g.eliminate(src.Levels); err != nil {
		return g, err
	}
	g.columns(from)
	g.weightRows(from)
	return g, nil
}

// eliminate inverts Phi^-1 + L'D^-1 L.
func (g *block) eliminate(levels []Level) error {
	k := len(levels)
	if k == 0 {
		return nil
	}
	s := mat.NewSymDense(k, nil)
	for l, level := range levels {
		s.SetSym(l, l, 1/level.Variance)
		g.log += math.Log(level.Variance)
	}
	for t := range g.rows {
		for l, a := range g.rows[t].Signs {
			for m := l; m < k && a != 0; m++ {
				s.SetSym(l, m, s.At(l, m)+a*g.w[t]*g.rows[t].Signs[m])
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(s) {
		return ErrSingular
	}
	g.log += chol.LogDet()
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		return ErrSingular
	}
	g.inv = make([]float64, k*k)
	for l := range k {
		for m := range k {
			g.inv[l*k+m] = inv.At(l, m)
		}
	}
	return nil
}

// alone reports whether the block is one row without levels.
func (g *block) alone() bool { return len(g.rows) == 1 && g.inv == nil && len(g.rows[0].Terms) > 0 }

func (g *block) columns(from *store) {
	if len(g.rows) == 1 {
		terms := g.rows[0].Terms
		if len(terms) == 0 {
			return
		}
		if cols, ok := from.columns[&terms[0]]; ok {
			g.cols = cols
			return
		}
		g.cols = make([]int, len(terms))
		for i, t := range terms {
			g.cols[i] = t.Column
		}
		slices.Sort(g.cols)
		from.columns[&terms[0]] = g.cols
		return
	}
	seen := map[int]bool{}
	for i := range g.rows {
		for _, t := range g.rows[i].Terms {
			if !seen[t.Column] {
				seen[t.Column] = true
				g.cols = append(g.cols, t.Column)
			}
		}
	}
	slices.Sort(g.cols)
}

// weightRows computes R^-1 W column by column.
func (g *block) weightRows(from *store) {
	n, p := len(g.rows), len(g.cols)
	g.b = from.take(n * p)
	for t := range g.rows {
		for _, term := range g.rows[t].Terms {
			j, _ := slices.BinarySearch(g.cols, term.Column)
			g.b[t*p+j] += g.w[t] * term.Coef
		}
	}
	if g.inv == nil {
		return
	}
	column := make([]float64, n)
	for j := range p {
		for t := range n {
			column[t] = g.b[t*p+j]
		}
		g.subtractLevels(column)
		for t := range n {
			g.b[t*p+j] = column[t]
		}
	}
}

// subtractLevels takes v = D^-1 x to R^-1 x = v - D^-1 L S L'v in place.
func (g *block) subtractLevels(v []float64) {
	k := len(g.rows[0].Signs)
	if k == 0 {
		return
	}
	var small [8]float64
	lv := append(small[:0], make([]float64, k)...)
	for t := range g.rows {
		for l, a := range g.rows[t].Signs {
			lv[l] += a * v[t]
		}
	}
	slv := make([]float64, k)
	for l := range k {
		for m := range k {
			slv[l] += g.inv[l*k+m] * lv[m]
		}
	}
	for t := range g.rows {
		sum := 0.0
		for l, a := range g.rows[t].Signs {
			sum += a * slv[l]
		}
		v[t] -= g.w[t] * sum
	}
}

// inverse puts R^-1 x into v, which may be x.
func (g *block) inverse(v, x []float64) {
	for t := range x {
		v[t] = g.w[t] * x[t]
	}
	g.subtractLevels(v)
}

// inverseAt returns element (s, t) of R^-1.
func (g *block) inverseAt(s, t int) float64 {
	v := 0.0
	if s == t {
		v = g.w[t]
	}
	k := len(g.rows[0].Signs)
	for l := range k {
		for m := range k {
			v -= g.w[s] * g.rows[s].Signs[l] * g.inv[l*k+m] * g.rows[t].Signs[m] * g.w[t]
		}
	}
	return v
}

// apply puts W x into out.
func (g *block) apply(out, x []float64) {
	for t := range g.rows {
		out[t] = 0
		for _, term := range g.rows[t].Terms {
			out[t] += term.Coef * x[term.Column]
		}
	}
}

// row returns row t of R^-1 W on cols.
func (g *block) row(t int) []float64 {
	p := len(g.cols)
	return g.b[t*p : (t+1)*p]
}

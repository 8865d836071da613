package adjust

import "math"

// A Deleted residual compares a row with everything else.
type Deleted struct {
	Block, Row  int
	Residual    float64 // y minus its prediction without the row: (Py)_t / P_tt
	SD          float64 // of Residual for a row of weight 1
	Ratio       float64 // |Residual| / SD
	Uncheckable bool    // the row alone determines something: Residual is 0 and SD +Inf
}

// uncheckable is the redundancy below which nothing else checks a row.
const uncheckable = 1e-6

// Deleted returns the deleted residual of every row, in order. With the own
// variance c d of a row
//
//	SD^2 = 1/P_tt - c d + d
func (s *State) Deleted() []Deleted {
	out := make([]Deleted, 0, s.model.Rows())
	lone := s.loneVariances()
	for g := range s.blocks {
		b := &s.blocks[g]
		for t := range b.rows {
			p := s.projection(g, t, lone)
			r := Deleted{Block: g, Row: t, SD: math.Inf(1), Uncheckable: p/b.w[t] < uncheckable}
			if !r.Uncheckable {
				own := 1 / b.w[t]
				r.Residual = b.py[t] / p
				r.SD = math.Sqrt(1/p - own + own/b.rows[t].Weight)
				r.Ratio = math.Abs(r.Residual) / r.SD
			}
			out = append(out, r)
		}
	}
	return out
}

// Quadratic returns y'P y: for a model without priors and random columns it is
// the generalised sum of squares of the residuals, chi-squared with rows minus
// columns degrees of freedom when the variances hold.
func (s *State) Quadratic() float64 {
	q := 0.0
	for g := range s.blocks {
		b := &s.blocks[g]
		for t := range b.rows {
			q += b.rows[t].Y * b.py[t]
		}
	}
	return q
}

package adjust_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"delaybook/domain/adjust"

	"gonum.org/v1/gonum/mat"
)

// A plainModel is a model written out: y ~ N(X b, V) with V and its derivatives
// as full matrices, priors as rows, levels and random columns inside V.
type plainModel struct {
	x     *mat.Dense
	y     *mat.VecDense
	v     *mat.Dense
	slope []*mat.Dense // dV/dtheta
	fixed []int        // columns of x
}

// plain writes a model out by its definition.
func plain(m *adjust.Model, theta []float64) *plainModel {
	random := map[int]adjust.Random{}
	for _, r := range m.Random {
		random[r.Column] = r
	}
	var fixed []int
	for c := range m.Columns {
		if _, ok := random[c]; !ok {
			fixed = append(fixed, c)
		}
	}
	n := m.Rows() + len(m.Priors)
	p := &plainModel{x: mat.NewDense(n, len(fixed), nil), y: mat.NewVecDense(n, nil), v: mat.NewDense(n, n, nil), fixed: fixed}
	for range theta {
		p.slope = append(p.slope, mat.NewDense(n, n, nil))
	}
	w := mat.NewDense(n, m.Columns, nil)
	at := 0
	for _, b := range m.Blocks {
		for s := range b.Rows {
			for t := range b.Rows {
				v := 0.0
				for l, level := range b.Levels {
					v += b.Rows[s].Signs[l] * level.Variance * b.Rows[t].Signs[l]
				}
				p.v.Set(at+s, at+t, v)
			}
		}
		for _, r := range b.Rows {
			p.y.SetVec(at, r.Y)
			own := r.Known
			for _, part := range r.Parts {
				own += part.Factor * theta[part.Param]
				p.slope[part.Param].Set(at, at, r.Weight*part.Factor)
			}
			p.v.Set(at, at, p.v.At(at, at)+r.Weight*own)
			for _, t := range r.Terms {
				w.Set(at, t.Column, t.Coef)
			}
			at++
		}
	}
	for _, prior := range m.Priors {
		p.y.SetVec(at, prior.Value)
		p.v.Set(at, at, prior.Variance)
		for _, t := range prior.Terms {
			w.Set(at, t.Column, t.Coef)
		}
		at++
	}
	for i, c := range fixed {
		for s := range n {
			p.x.Set(s, i, w.At(s, c))
		}
	}
	for c, r := range random {
		for s := range n {
			for t := range n {
				zz := w.At(s, c) * w.At(t, c)
				if r.Param >= 0 {
					p.v.Set(s, t, p.v.At(s, t)+zz*theta[r.Param])
					p.slope[r.Param].Set(s, t, p.slope[r.Param].At(s, t)+zz)
				} else {
					p.v.Set(s, t, p.v.At(s, t)+zz*r.Known)
				}
			}
		}
	}
	return p
}

func product(ms ...mat.Matrix) *mat.Dense {
	out := mat.DenseCopyOf(ms[0])
	for _, m := range ms[1:] {
		var next mat.Dense
		next.Mul(out, m)
		out = &next
	}
	return out
}

func inverse(tb testing.TB, m mat.Matrix) *mat.Dense {
	tb.Helper()
	var out mat.Dense
	if err := out.Inverse(m); err != nil {
		tb.Fatal(err)
	}
	return &out
}

// randomModel has blocks with shared levels, two estimated and one known random
// column kinds, weights and priors.
func randomModel(random *rand.Rand) (*adjust.Model, []float64) {
	const fixed, units = 3, 4
	m := &adjust.Model{Columns: fixed + units + 1}
	for i := range units {
		m.Random = append(m.Random, adjust.Random{Column: fixed + i, Param: 2})
	}
	m.Random = append(m.Random, adjust.Random{Column: fixed + units, Param: -1, Known: 4})
	for range 5 {
		levels := random.IntN(3)
		var b adjust.Block
		for range levels {
			b.Levels = append(b.Levels, adjust.Level{Variance: 1 + 20*random.Float64()})
		}
		for range 1 + random.IntN(4) {
			r := adjust.Row{Y: 10 * random.NormFloat64(), Known: random.Float64(), Weight: 1 + float64(random.IntN(2))*random.Float64()}
			r.Parts = []adjust.Part{{Param: random.IntN(2), Factor: 1}}
			for c := range m.Columns {
				if random.IntN(2) == 0 {
					r.Terms = append(r.Terms, adjust.Term{Column: c, Coef: float64(random.IntN(2)*2 - 1)})
				}
			}
			for range levels {
				r.Signs = append(r.Signs, float64(random.IntN(3)-1))
			}
			b.Rows = append(b.Rows, r)
		}
		m.Blocks = append(m.Blocks, b)
	}
	for c := range fixed {
		m.Priors = append(m.Priors, adjust.Prior{
			Terms: []adjust.Term{{Column: c, Coef: 1}, {Column: (c + 1) % fixed, Coef: 0.5}}, Value: float64(c), Variance: 2,
		})
	}
	return m, []float64{0.5 + random.Float64(), 0.5 + random.Float64(), 0.5 + random.Float64()}
}

// Block elimination, mixed-model equations and the formulas of a contrast agree
// with generalised least squares on full matrices (S. R. Searle, G. Casella,
// C. E. McCulloch, Variance Components, 1992, chapter 6: P = V^-1 - V^-1 X
// (X'V^-1 X)^-1 X'V^-1, score -1/2 [tr(P V_i) - y'P V_i P y], information
// 1/2 tr(P V_i P V_j)).
func TestAgreesWithFullMatrices(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(1, 9))
	for range 50 {
		m, theta := randomModel(random)
		s, err := adjust.Solve(m, theta)
		if err != nil {
			t.Fatal(err)
		}
		p := plain(m, theta)
		vi := inverse(t, p.v)
		c := inverse(t, product(p.x.T(), vi, p.x))
		b := product(c, p.x.T(), vi, p.y)
		project := product(vi, p.x, c, p.x.T(), vi)
		project.Sub(vi, project)
		py := product(project, p.y)
		slope := s.Slope()
		for i, di := range p.slope {
			score := -(mat.Trace(product(project, di)) - product(py.T(), di, py).At(0, 0)) / 2
			agreeTo(t, fmt.Sprintf("score %d", i), slope.Score[i], score)
			for j, dj := range p.slope {
				agreeTo(t, fmt.Sprintf("information %d %d", i, j), slope.Info.At(i, j), mat.Trace(product(project, di, project, dj))/2)
			}
		}
		checkContrast(t, s, p, c, b, vi, project)
		k := 0
		for _, d := range s.Deleted() {
			agreeTo(t, "deleted residual", d.Residual, py.At(k, 0)/project.At(k, k))
			row := m.Blocks[d.Block].Rows[d.Row]
			own := row.Known
			for _, part := range row.Parts {
				own += part.Factor * theta[part.Param]
			}
			agreeTo(t, "its deviation", d.SD, math.Sqrt(1/project.At(k, k)-row.Weight*own+own))
			k++
		}
	}
}

// checkContrast holds a sum of two fixed columns against its definition: with
// a = V^-1 X C k, dM_i = a'V_i a and f_i = V_i a (Kenward and Roger, 1997).
func checkContrast(t *testing.T, s *adjust.State, p *plainModel, c, b, vi, project *mat.Dense) {
	t.Helper()
	contrast := s.Contrast([]adjust.Term{{Column: 0, Coef: 1}, {Column: 2, Coef: -1}})
	k := mat.NewDense(len(p.fixed), 1, []float64{1, 0, -1})
	agreeTo(t, "value", contrast.Value, product(k.T(), b).At(0, 0))
	agreeTo(t, "variance", contrast.Variance, product(k.T(), c, k).At(0, 0))
	a := product(vi, p.x, c, k)
	for i, di := range p.slope {
		agreeTo(t, "slope", contrast.Slopes[i], product(a.T(), di, a).At(0, 0))
		for j, dj := range p.slope {
			agreeTo(t, "cross term", contrast.Cross.At(i, j), product(a.T(), di, project, dj, a).At(0, 0))
		}
	}
}

// agreeTo allows for the rounding of inverting matrices of 20 rows.
func agreeTo(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-9*(1+math.Abs(want))) {
		t.Errorf("%s = %.14g, want %.14g", what, got, want)
	}
}

package adjust

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

const (
	fitSteps      = 200   // up to 100 linear steps were seen
	fitTolerance  = 1e-11 // largest step in log theta at the end
	fitLoose      = 1e-6  // below it steps that shrink no more are rounding
	fitPatience   = 10    // steps without a shorter one
	fitLongest    = 1.5   // longest step in log theta
	fitHalvings   = 25
	fitRounding   = 1e-9 // of the log likelihood: below it a fall is rounding
	boundaryRatio = 1e-9 // smaller ones would take the digits of the others
)

// ErrUnsettled is returned when variances keep moving: their start or the data
// are far from anything that the priors expect.
var ErrUnsettled = errors.New("the variances did not settle")

// A Fitted is models solved at their fitted variances.
type Fitted struct {
	Params []Param
	States []*State
	Info   *mat.SymDense // of all models, without priors
	Steps  int
}

// Fit maximises the penalised restricted likelihood of models that share their
// variances, from the values of params,
//
//	l = sum of restricted log likelihoods - 1/2 sum_w [DF log s2 + SS/s2]
//	    - 1/2 sum_i nu_i [log s2_i + s0_i/s2_i]
//
// by Fisher scoring in log s2. Rows outside the information have no derivative:
// within a step their variance is held where it was. A variance without prior that falls below 1e-9
// of the largest one stays there: it is zero.
func Fit(models []*Model, params []Param) (*Fitted, error) {
	f := &fitter{models: models, params: append([]Param(nil), params...)}
	start := logs(params)
	at, err := f.at(start, start)
	if err != nil {
		return nil, err
	}
	shortest, since := math.Inf(1), 0
	var last []float64
	for step := 1; step <= fitSteps; step++ {
		delta, err := f.step(at)
		if err != nil {
			return nil, err
		}
		last = accelerate(delta, last)
		next, err := f.improve(at, delta)
		if err != nil {
			return nil, err
		}
		longest := 0.0
		if next != nil {
			for i := range next.log {
				longest = max(longest, math.Abs(next.log[i]-at.log[i]))
			}
			if at, err = f.release(next); err != nil {
				return nil, err
			}
		}
		if since++; longest < shortest {
			shortest, since = longest, 0
		}
		if longest < fitTolerance || shortest < fitLoose && since >= fitPatience {
			return f.result(at, step), nil
		}
	}
	return nil, fmt.Errorf("%w in %d steps", ErrUnsettled, fitSteps)
}

// accelerate lengthens a step that points where the last one did, and shortens
// one that points back: steps of a constant ratio r sum up to 1/(1-r) times the
// next (A. C. Aitken, 1926), also where r is below -1 and they would go to and
// fro for ever, each time longer. It returns the step to compare the next one
// with, none after a changed one.
func accelerate(delta, last []float64) []float64 {
	if last == nil {
		return slices.Clone(delta)
	}
	var along, square, own float64
	for i, d := range delta {
		along += d * last[i]
		square += last[i] * last[i]
		own += d * d
	}
	r := along / square
	if !(r > 0.5 && r < 0.99 || r < -0.5 && r > -10) || own-r*along > 1e-2*own {
		return slices.Clone(delta)
	}
	for i := range delta {
		delta[i] = max(-fitLongest, min(fitLongest, delta[i]/(1-r)))
	}
	return nil
}

type fitter struct {
	models []*Model
	params []Param
}

// A fitPoint is everything at one set of variances.
type fitPoint struct {
	log    []float64
	states []*State
	l      float64
}

func logs(params []Param) []float64 {
	out := make([]float64, len(params))
	for i, p := range params {
		out[i] = math.Log(p.Value)
	}
	return out
}

// at solves at one set of variances, with the rows outside the information at
// another.
func (f *fitter) at(log, outside []float64) (*fitPoint, error) {
	p := &fitPoint{log: log}
	theta, held := exps(log), exps(outside)
	for _, m := range f.models {
		s, err := solveAt(m, theta, held)
		if err != nil {
			return nil, err
		}
		p.states = append(p.states, s)
		p.l += s.logLikelihood()
		m.within(func(w Within) { p.l -= (w.DF*log[w.Param] + w.SS/theta[w.Param]) / 2 })
	}
	for i, q := range f.params {
		p.l -= q.Nu * (log[i] + q.Scale/theta[i]) / 2
	}
	return p, nil
}

func exps(log []float64) []float64 {
	out := make([]float64, len(log))
	for i, v := range log {
		out[i] = math.Exp(v)
	}
	return out
}

// release lets the rows outside the information follow to where a step went.
func (f *fitter) release(p *fitPoint) (*fitPoint, error) {
	for _, m := range f.models {
		for g := range m.Blocks {
			for i := range m.Blocks[g].Rows {
				if m.Blocks[g].Rows[i].Outside {
					return f.at(p.log, p.log)
				}
			}
		}
	}
	return p, nil
}

// step returns the scoring step in log theta.
func (f *fitter) step(at *fitPoint) ([]float64, error) {
	slope := newSlope(len(f.params))
	for _, s := range at.states {
		slope.Add(s.Slope())
	}
	free, floor := f.free(at.log)
	n := len(free)
	delta := make([]float64, len(f.params))
	if n == 0 {
		return delta, nil
	}
	info, score := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for a, i := range free {
		vi := math.Exp(at.log[i])
		for b, j := range free {
			info.SetSym(a, b, slope.Info.At(i, j)*vi*math.Exp(at.log[j]))
		}
		p := f.params[i]
		// Below its scale the prior is steeper than its information: with that alone
		// steps towards a variance near zero go to and fro without end.
		info.SetSym(a, a, info.At(a, a)+p.Nu/2*max(1, p.Scale/vi))
		score.SetVec(a, slope.Score[i]*vi-p.Nu*(1-p.Scale/vi)/2)
	}
	d, err := scaledSolve(info, score)
	if err != nil {
		return nil, err
	}
	for a, i := range free {
		delta[i] = max(-fitLongest, min(fitLongest, d[a]))
		if f.params[i].Nu == 0 {
			delta[i] = max(delta[i], floor-at.log[i])
		}
	}
	return delta, nil
}

// scaledSolve solves with the information brought to a diagonal of one: that of
// a variance near zero is tiny in log s2 without being less certain.
func scaledSolve(info *mat.SymDense, score *mat.VecDense) ([]float64, error) {
	n := score.Len()
	scale := make([]float64, n)
	for i := range n {
		if scale[i] = math.Sqrt(info.At(i, i)); !(scale[i] > 0) {
			return nil, fmt.Errorf("variances without information: %w", ErrSingular)
		}
	}
	for i := range n {
		score.SetVec(i, score.AtVec(i)/scale[i])
		for j := i; j < n; j++ {
			info.SetSym(i, j, info.At(i, j)/(scale[i]*scale[j]))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(info) {
		return nil, fmt.Errorf("variances without information: %w", ErrSingular)
	}
	var d mat.VecDense
	if err := chol.SolveVecTo(&d, score); err != nil {
		return nil, fmt.Errorf("variances without information: %w", ErrSingular)
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = d.AtVec(i) / scale[i]
	}
	return out, nil
}

// free returns the params that may move, and the log of the smallest value of
// those without prior.
func (f *fitter) free(log []float64) (free []int, floor float64) {
	largest := math.Inf(-1)
	for _, v := range log {
		largest = max(largest, v)
	}
	floor = largest + math.Log(boundaryRatio)
	for i, v := range log {
		if f.params[i].Nu > 0 || v > floor {
			free = append(free, i)
		}
	}
	return free, floor
}

// improve goes delta from at, or the longest half, quarter ... of it that does
// not lower the likelihood; nil when none is left.
func (f *fitter) improve(at *fitPoint, delta []float64) (*fitPoint, error) {
	for range fitHalvings {
		log := make([]float64, len(at.log))
		for i := range log {
			log[i] = at.log[i] + delta[i]
		}
		next, err := f.at(log, at.log)
		if err != nil {
			return nil, err
		}
		if next.l >= at.l-fitRounding*(1+math.Abs(at.l)) {
			return next, nil
		}
		for i := range delta {
			delta[i] /= 2
		}
	}
	return nil, nil
}

func (f *fitter) result(at *fitPoint, steps int) *Fitted {
	out := &Fitted{Params: f.params, States: at.states, Steps: steps}
	slope := newSlope(len(f.params))
	for _, s := range at.states {
		slope.Add(s.Slope())
	}
	out.Info = slope.Info
	_, floor := f.free(at.log)
	for i, v := range at.log {
		out.Params[i].Value = math.Exp(v)
		if out.Params[i].Nu == 0 && v <= floor {
			out.Params[i].Value = 0
		}
	}
	return out
}

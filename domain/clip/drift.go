package clip

import "math"

// drift returns the drift that explains the events best, within reach of a first
// guess, and by how much the logarithm of its evidence exceeds that of none.
func (f *fitter) drift(cells []cell, guess, reach float64) (best, gain float64) {
	none := f.evidence(cells, 0)
	span := f.events[len(f.events)-1].beepS - f.events[0].beepS
	if span < 2 {
		return 0, 0
	}
	likely := f.prune(cells, guess)
	best, top := 0.0, f.evidence(likely, 0)
	// A step moves the ends by half a millisecond, or by an eighth of a frame.
	step := min(max(1e-3, f.stepS/16), 2e-3) / span
	try := func(d float64) {
		if v := f.evidence(likely, d); v > top {
			best, top = d, v
		}
	}
	for d := guess - reach; d <= guess+reach; d += step {
		try(d)
	}
	for range 4 {
		middle := best
		step /= 3
		for i := -3; i <= 3; i++ {
			try(middle + float64(i)*step)
		}
	}
	return best, f.evidence(cells, best) - none
}

// prune keeps the cells that matter at no drift or at the guess.
func (f *fitter) prune(cells []cell, guess float64) []cell {
	value := make([]float64, len(cells))
	best := math.Inf(-1)
	for i := range cells {
		v := logSum(f.joint(&cells[i], guess))
		if guess != 0 {
			v = max(v, logSum(f.joint(&cells[i], 0)))
		}
		value[i] = v + cells[i].prior
		best = max(best, value[i])
	}
	var out []cell
	for i := range cells {
		if value[i] > best-25 {
			out = append(out, cells[i])
		}
	}
	return out
}

// driftU returns a best drift again with its standard uncertainty, from how fast
// the evidence falls on both sides.
func (f *fitter) driftU(cells []cell, d float64) (same, u float64) {
	likely := f.prune(cells, d)
	span := f.events[len(f.events)-1].beepS - f.events[0].beepS
	if span < 2 {
		return 0, math.Inf(1)
	}
	top := f.evidence(likely, d)
	side := func(sign float64) float64 {
		h := 0.05e-3 / span
		for ; h < 3000e-6; h *= 1.5 {
			if drop := top - f.evidence(likely, d+sign*h); drop > 0.5 {
				return h / math.Sqrt(2*drop)
			}
		}
		return h
	}
	low, high := side(-1), side(1)
	// Beyond chance, shares of light are true to some 0.1 ms over the recording.
	return d, math.Hypot(max(low, high), 0.1e-3/span)
}

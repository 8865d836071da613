package clip

import "math"

// integrate sets offset, uncertainty and the rest as means over all cells, each
// with the weight that the events give it.
func (f *fitter) integrate(cells []cell, drift float64, out *estimate) {
	density := make([]float64, f.grid.n)
	joints := make([][]float64, len(cells))
	top := math.Inf(-1)
	for i := range cells {
		joints[i] = f.joint(&cells[i], drift)
		for j := range joints[i] {
			joints[i][j] += cells[i].prior
			top = max(top, joints[i][j])
		}
	}
	total, best, bestWeight := 0.0, 0, 0.0
	for i := range cells {
		weight := 0.0
		for j, v := range joints[i] {
			p := math.Exp(v - top)
			density[j] += p
			weight += p
		}
		total += weight
		out.exposureS += weight * cells[i].exposure
		out.scatterS += weight * cells[i].scatter
		if weight > bestWeight {
			best, bestWeight = i, weight
		}
	}
	out.exposureS /= total
	out.scatterS /= total
	out.gamma = cells[best].gamma
	out.offsetS, out.uS = f.moments(density)
	f.eachEvent(&cells[best], drift, out)
}

// moments returns mean and standard deviation of a density over the grid.
func (f *fitter) moments(density []float64) (at, sd float64) {
	var sum, first, second float64
	for i, p := range density {
		sum += p
		first += p * float64(i)
	}
	first /= sum
	for i, p := range density {
		second += p * (float64(i) - first) * (float64(i) - first)
	}
	return f.grid.fromS + first*f.grid.stepS, f.grid.stepS * math.Sqrt(second/sum+1.0/12)
}

// eachEvent sets what every event says by itself, with exposure and exponent of
// the best cell.
func (f *fitter) eachEvent(best *cell, drift float64, out *estimate) {
	for k := range f.events {
		e := &f.events[k]
		ll := e.logLikelihood(f.grid, best.exposure, best.gamma, f.sigma)
		top := ll[argMax(ll)]
		density := make([]float64, len(ll))
		sum := 0.0
		for i, v := range ll {
			density[i] = math.Exp(v - top)
			sum += density[i]
		}
		var own eachEvent
		own.offsetS, own.uS = f.moments(density)
		own.uS = math.Hypot(own.uS, e.beepU)
		blur(density, math.Hypot(math.Hypot(best.scatter, e.beepU), 0.3e-3)/f.grid.stepS)
		want := out.offsetS + drift*(e.beepS-f.middleS)
		i := int(math.Round((want - f.grid.fromS) / f.grid.stepS))
		if i >= 0 && i < len(density) {
			good, wrong := 0.98*density[i]/sum, 0.02/float64(len(density))
			own.weight = good / (good + wrong)
		}
		out.each = append(out.each, own)
	}
}

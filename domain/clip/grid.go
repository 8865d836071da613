package clip

import (
	"math"
	"slices"
)

// A sample is a frame or field: the middle of its exposure and the share of the
// flash's light in it, for each exponent.
type sample struct {
	atS   float64
	share [len(gammas)]float64
	parts float64 // how many samples share the error of one
}

// An event is one pair, ready for the fit.
type event struct {
	flashS, beepS float64
	beepU         float64
	lastsS        float64 // of the flash; 0: longer than the samples reach
	samples       []sample
}

// A grid is the axis of offsets on which likelihoods are tabulated.
type grid struct {
	fromS, stepS float64
	n            int
}

func (g grid) at(i int) float64 { return g.fromS + float64(i)*g.stepS }

// expected is the share of light of a flash that begins x after the middle of an
// exposure of e and lasts for lasts.
func expected(x, e, lasts float64) float64 {
	open, shut := -e/2, e/2
	end := shut
	if lasts > 0 {
		end = min(shut, x+lasts)
	}
	return min(max(end-max(open, x), 0)/e, 1)
}

// logLikelihood tabulates one event over the grid: how well a flash at
// beep + offset explains its samples. A share that is far from what is expected
// counts no more than five deviations, since a model is never quite true.
func (e *event) logLikelihood(g grid, exposure float64, gamma int, sigma float64) []float64 {
	// Where a step of the grid moves shares by more than sigma, take the mean over
	// finer steps: a short exposure must not win by fitting between them.
	fine := min(max(1, int(math.Ceil(g.stepS/exposure/sigma))), 8)
	if fine == 1 {
		return e.tabulate(g, exposure, gamma, sigma)
	}
	dense := grid{fromS: g.fromS - g.stepS*float64(fine-1)/float64(2*fine), stepS: g.stepS / float64(fine), n: g.n * fine}
	all := e.tabulate(dense, exposure, gamma, sigma)
	out := make([]float64, g.n)
	for i := range out {
		part := all[i*fine : (i+1)*fine]
		top := slices.Max(part)
		sum := 0.0
		for _, v := range part {
			if v > top-20 {
				sum += math.Exp(v - top)
			}
		}
		out[i] = top + math.Log(sum/float64(fine))
	}
	return out
}

func (e *event) tabulate(g grid, exposure float64, gamma int, sigma float64) []float64 {
	out := make([]float64, g.n)
	const most = 12.5
	for _, s := range e.samples {
		share := s.share[gamma]
		scale := 1 / (2 * sigma * sigma * s.parts)
		most := most / s.parts
		x := e.beepS + g.fromS - s.atS
		for i := range out {
			d := share - expected(x, exposure, e.lastsS)
			out[i] -= min(d*d*scale, most)
			x += g.stepS
		}
	}
	return out
}

// mixed turns a log likelihood into the log of a density over the grid that
// allows for scatter of the event and for the event being wrong altogether.
func mixed(ll []float64, blurSteps float64) []float64 {
	top := math.Inf(-1)
	for _, v := range ll {
		top = max(top, v)
	}
	p := make([]float64, len(ll))
	total := 0.0
	for i, v := range ll {
		if v > top-40 { // less than what being wrong allows for
			p[i] = math.Exp(v - top)
		}
		total += p[i]
	}
	blur(p, blurSteps)
	const wrong = 0.02
	for i := range p {
		p[i] = math.Log((1-wrong)*p[i]/total+wrong/float64(len(p))) + math.Log(total) + top
	}
	return p
}

// blur convolves with a Gauss curve of the given deviation in steps, as three
// means over a window: the variance of a mean over w is (w^2-1)/12. Beyond the
// ends there is nothing.
func blur(p []float64, sd float64) {
	if sd < 0.6 {
		return
	}
	half := max(1, int(math.Round((math.Sqrt(4*sd*sd+1)-1)/2)))
	width := float64(2*half + 1)
	sum := make([]float64, len(p)+1)
	for range 3 {
		for i, v := range p {
			sum[i+1] = sum[i] + v
		}
		for i := range p {
			p[i] = (sum[min(i+half+1, len(p))] - sum[max(i-half, 0)]) / width
		}
	}
}

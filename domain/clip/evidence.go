package clip

import (
	"math"

	"delaybook/domain/recording"
)

// Evidence is kept for every result, so it stays below some 6 kB.
const mostValues = 3000

// evidence is the light of the flash area and the envelope of the tone.
func (a *analysis) evidence() *recording.Evidence {
	out := &recording.Evidence{FromS: a.film.pts[0]}
	end := a.film.pts[len(a.film.pts)-1] + a.film.clock.periodS
	out.Light = a.lightSeries(end - out.FromS)
	var h *hearing
	for i := range a.hearings {
		if a.hearings[i].track == a.result.Finding.Sound {
			h = &a.hearings[i]
		}
	}
	if h != nil {
		out.Sound = h.series(out.FromS, end-out.FromS)
	}
	return out
}

// lightSeries is the mean of the blocks that the flashes cover.
func (a *analysis) lightSeries(lengthS float64) *recording.Series {
	weight := [blocks]float64{}
	for _, g := range a.measured() {
		for _, p := range g.mask {
			weight[a.film.block(p.x, p.y)]++
		}
	}
	light := make([]float64, len(a.film.pts))
	for k := range light {
		for b, w := range weight {
			light[k] += w * float64(a.film.mean[k*blocks+b])
		}
	}
	step := max(a.film.clock.periodS/2, lengthS/mostValues)
	low, high := quantile(light, 0.02), quantile(light, 0.995)
	k := 0
	return series(lengthS, step, low, high, func(t float64) float64 {
		t += a.film.pts[0]
		for k+1 < len(light) && a.film.pts[k+1] <= t {
			k++
		}
		return light[k]
	})
}

// series is the envelope of the tone from an instant on.
func (h *hearing) series(fromS, lengthS float64) *recording.Series {
	step := max(5e-3, lengthS/mostValues)
	return series(lengthS, step, 0, quantile(h.slow, 0.99), func(t float64) float64 {
		i := int((fromS + t - h.startS) / h.stepS())
		top := 0.0
		for j := max(i, 0); j < min(i+max(1, int(step/h.stepS())), len(h.slow)); j++ {
			top = max(top, h.slow[j])
		}
		return top
	})
}

// series tabulates a function of time, scaled so that low is 0 and high is 255.
func series(lengthS, step, low, high float64, at func(t float64) float64) *recording.Series {
	s := &recording.Series{StepS: step}
	for i := 0; float64(i)*step < lengthS && i < mostValues; i++ {
		share := (at(float64(i)*step) - low) / max(high-low, 1e-12)
		s.Values = append(s.Values, byte(math.Round(255*min(max(share, 0), 1))))
	}
	return s
}

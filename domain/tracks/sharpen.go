package tracks

import (
	"math"
	"slices"
)

// blurHz is the width over which cross-spectra are averaged: reverberation
// after 1/blurHz counts as noise.
const blurHz = 20.0

// mostWeight keeps a few frequencies of perfect coherence from deciding alone.
const mostWeight = 100.0

// nearSamples is how far from the peak of all windows one window's is looked for.
const nearSamples = 0.2e-3 * workRate

// sharpen measures the windows in use again next to the peak of all, with each
// frequency worth the same and with frequencies weighted by what they say, and
// keeps the way that the windows agree better by. With phase weighting alone a
// frequency drowned in noise counts like a clean one.
func (c *correlator) sharpen(first, second []float64, windows []window, all peak) {
	weights := c.coherence(first, second, windows)
	weighted := make([]complex128, len(weights))
	ways := [2][]float64{}
	for _, w := range windows {
		if !w.used {
			continue
		}
		g := c.cross(c.piece(first, w.from), c.piece(second, w.from))
		for k, v := range g {
			weighted[k] = v * complex(weights[k], 0)
		}
		ways[1] = append(ways[1], c.near(weighted, all.delay, nearSamples, all.inverted)/workRate)
		c.whiten(g)
		ways[0] = append(ways[0], c.near(g, all.delay, nearSamples, all.inverted)/workRate)
	}
	shift := math.Abs(median(slices.Clone(ways[1])) - median(slices.Clone(ways[0])))
	kept := ways[0]
	if spreadOf(ways[1]) < 0.8*spreadOf(ways[0]) && shift < 1e-4 {
		kept = ways[1]
	}
	for i := range windows {
		if windows[i].used {
			windows[i].delayS, kept = kept[0], kept[1:]
		}
	}
}

// spreadOf is the spread of successive differences, which a drift leaves alone.
func spreadOf(x []float64) float64 {
	steps := []float64{}
	for i := 1; i < len(x); i++ {
		steps = append(steps, math.Abs(x[i]-x[i-1]))
	}
	return median(steps)
}

// coherence returns the weight of each frequency that makes the correlation the
// maximum-likelihood estimate for stationary sound: c/(1-c) over the magnitude of
// the cross-spectrum, where c is the squared coherence (Hannan and Thomson's
// processor in Knapp and Carter 1976), averaged over the windows in use and
// blurHz.
func (c *correlator) coherence(first, second []float64, windows []window) []float64 {
	width := max(1, int(blurHz*float64(c.n)/workRate))
	bins := (len(c.band) + width - 1) / width
	sums := make([]spectra, bins)
	for _, w := range windows {
		if w.used {
			c.accumulate(sums, width, c.piece(first, w.from), c.piece(second, w.from))
		}
	}
	// What a sum of so many lines is worth in independent ones: padding adds none, and half the windows overlap.
	worth := 0.6 * float64(len(c.taper)) / float64(c.n)
	weights := make([]float64, len(c.band))
	for k := range weights {
		weights[k] = c.band[k] * sums[k/width].weight(worth)
	}
	return weights
}

// leastAverages is below which a sum of lines says nothing of their coherence.
const leastAverages = 3

// spectra are sums of the cross-spectrum and of the power of both.
type spectra struct {
	cross         complex128
	xx, yy        float64
	size, squares float64 // of each line's cross-spectrum
}

func (c *correlator) accumulate(sums []spectra, width int, a, b []float64) {
	c.spectrum(c.a, a)
	c.spectrum(c.b, b)
	for k := range c.a {
		x, y, s := c.a[k], c.b[k], &sums[k/width]
		xx, yy := real(x)*real(x)+imag(x)*imag(x), real(y)*real(y)+imag(y)*imag(y)
		s.cross += x * complex(real(y), -imag(y))
		s.xx, s.yy = s.xx+xx, s.yy+yy
		s.size, s.squares = s.size+math.Sqrt(xx*yy), s.squares+xx*yy
	}
}

// weight returns what the frequencies of the sums are worth. One line alone is
// coherent with any other, so that a sum ruled by few lines says little.
func (s *spectra) weight(worth float64) float64 {
	size := real(s.cross)*real(s.cross) + imag(s.cross)*imag(s.cross)
	if size == 0 || s.xx*s.yy == 0 || s.squares == 0 {
		return 0
	}
	averages := worth * s.size * s.size / s.squares
	if averages < leastAverages {
		return 0
	}
	shared := (size/(s.xx*s.yy) - 1/averages) / (1 - 1/averages)
	if shared >= 1 {
		return mostWeight / math.Sqrt(size)
	}
	return min(mostWeight, max(0, shared)/(1-shared)) / math.Sqrt(size)
}

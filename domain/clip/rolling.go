package clip

import (
	"math"

	"delaybook/domain/recording"
)

// bandSamples are the samples of bands of rows, each at the time at which a
// rolling shutter exposes it. A share for another exponent than plain is close
// to a power of it, since the dark is near nothing.
func bandSamples(g *glow, pts []float64, period, readout float64) []sample {
	var out []sample
	for _, band := range g.bands {
		for i, share := range band.share {
			s := sample{atS: pts[i] + period/2 + readout*period*band.place, parts: bandCount}
			for j := range gammas {
				s.share[j] = share
				if share > 0 && share < 1 {
					s.share[j] = math.Pow(share, gammas[j]/gammas[plain])
				}
			}
			out = append(out, s)
		}
	}
	return out
}

// findReadout finds how long the camera takes from the first row to the last,
// as the value with which a common offset explains the bands of rows best. It
// does nothing where rows do not differ, or fields are apart.
func (a *analysis) findReadout(beeps []beep, m match) {
	a.rows.readout, a.rows.readoutU = 0, 0
	if a.rows.scan != recording.Progressive || !a.rowsDiffer(m) {
		return
	}
	none := a.tryReadout(beeps, m, 0)
	best, top, step := 0.0, none, 0.1
	for r := -1.1; r < 1.15; r += step {
		if v := a.tryReadout(beeps, m, r); v > top {
			best, top = r, v
		}
	}
	for range 3 {
		step /= 2
		for _, r := range []float64{best - step, best + step} {
			if v := a.tryReadout(beeps, m, r); v > top {
				best, top = r, v
			}
		}
	}
	if top < none+5 {
		return
	}
	a.rows.readout = best
	const h = 0.05
	drop := top - (a.tryReadout(beeps, m, best-h)+a.tryReadout(beeps, m, best+h))/2
	a.rows.readoutU = h / math.Sqrt(2*max(drop, 0.125))
}

// rowsDiffer tells whether the bands see the onsets at different times: by more
// than 0.06 frames from the top of the picture to its end.
func (a *analysis) rowsDiffer(m match) bool {
	sum, n := 0.0, 0
	for _, p := range m.pairs {
		bands := a.glows[p.flash].bands
		if len(bands) == 0 || a.glows[p.flash].short {
			continue
		}
		d := 0.0
		for i, share := range bands[bandCount-1].share {
			d += share - bands[0].share[i]
		}
		d /= bands[bandCount-1].place - bands[0].place
		sum += d * d
		n++
	}
	return n >= fewest && math.Sqrt(sum/float64(n)) > 0.06
}

// tryReadout is the logarithm of how well a readout explains the events, on a
// coarse grid.
func (a *analysis) tryReadout(beeps []beep, m match, readout float64) float64 {
	keep := a.rows.readout
	// A tiny one keeps the bands apart.
	a.rows.readout = readout + 1e-9
	events, _ := a.events(beeps, m)
	a.rows.readout = keep
	if len(events) < fewest {
		return math.Inf(-1)
	}
	f := newFitter(events, a.sampleS(), a.noise(m))
	f.grid.n = int(float64(f.grid.n)*f.grid.stepS/0.7e-3) + 1
	f.grid.stepS = 0.7e-3
	f.sigma = 0.06
	var tried []float64
	for _, e := range []float64{0.06, 0.2, 0.4, 0.6, 0.8, 1} {
		tried = append(tried, e*f.stepS)
	}
	cells := f.cells(tried, []int{plain}, scatters[1:2])
	guess, _ := f.slope()
	return max(f.evidence(cells, 0), f.evidence(cells, guess))
}

// measureBands sets the shares of light of bands of rows, both fields together.
func (l *look) measureBands(g *glow, to int, dark, lit []int) {
	byRow := map[int][]pixel{}
	for _, p := range g.mask {
		byRow[p.y] = append(byRow[p.y], p)
	}
	var rows []int
	for y := range l.h {
		if len(byRow[y]) >= 3 {
			rows = append(rows, y)
		}
	}
	if len(rows) < 2*bandCount {
		return
	}
	for band := range bandCount {
		var mask []pixel
		place := 0.0
		for _, y := range rows[len(rows)*band/bandCount : len(rows)*(band+1)/bandCount] {
			mask = append(mask, byRow[y]...)
			place += (float64(y) + 0.5) / float64(l.h) * float64(len(byRow[y]))
		}
		both := func(ks []int) float64 {
			return (mean(l.levels(mask, ks, 0, plain)) + mean(l.levels(mask, ks, 1, plain))) / 2
		}
		low, high := both(dark), both(lit)
		shares := make([]float64, to-g.from+1)
		for i := range shares {
			shares[i] = (both([]int{g.from + i}) - low) / max(high-low, 1e-6)
		}
		g.bands = append(g.bands, rowBand{place: place/float64(len(mask)) - 0.5, share: shares})
	}
}

// bandCount bands tell a rolling shutter from one that is open for all rows.
const bandCount = 4

// A rowBand is the light of some rows, for the exponent plain.
type rowBand struct {
	place float64   // of their middle, picture heights below mid height
	share []float64 // by frame
}

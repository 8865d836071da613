package clip

import (
	"math"
	"slices"
)

// exposures are the shutter times tried first, as shares of the time between
// samples: a shutter cannot be open for longer than that.
var exposures = [...]float64{0.03, 0.06, 0.1, 0.15, 0.21, 0.28, 0.36, 0.44, 0.52, 0.6, 0.68, 0.76, 0.84, 0.92, 1, 1.06}

// scatters are the deviations tried of events from one another, seconds, with
// the logarithm of how likely they are beforehand: displays and rate converters
// are not quite steady.
var scatters = [...]struct{ sdS, log float64 }{
	{0, -0.7}, {0.4e-3, -2}, {1.2e-3, -2.2}, {3e-3, -2.5}, {7e-3, -2.7}, {14e-3, -3},
}

// gammaLog is how likely each of gammas is beforehand: a normal curve about
// 2.2 with a deviation of 0.25.
func gammaLog(i int) float64 {
	d := (gammas[i] - gammas[plain]) / 0.25
	return -d * d / 2
}

// A fitter holds the events of one stretch of one offset.
type fitter struct {
	events  []event
	stepS   float64 // time between samples: a frame, or a field
	middleS float64 // the offset with drift is that of this instant
	grid    grid
	sigma   float64 // deviation of a share of light
	uneven  bool    // frames are repeated: what looks like drift is likely to be their beat
}

// An estimate is what the fit says of one stretch.
type estimate struct {
	offsetS, uS     float64
	driftS, driftUS float64 // seconds a second
	drifts          bool    // the drift is no chance
	stepAt          int     // the event before which the offset most likely steps
	stepGain        float64 // by how much that explains the events better, as a logarithm
	exposureS       float64
	scatterS        float64 // of events from one another
	gamma           int
	each            []eachEvent
}

type eachEvent struct {
	offsetS, uS float64
	weight      float64 // chance of belonging to the others
}

// A cell is one choice of what is not known beside offset and drift.
type cell struct {
	exposure, scatter float64
	gamma             int
	prior             float64     // logarithm
	each              [][]float64 // log density of each event over the grid
}

func newFitter(events []event, stepS, noise float64) *fitter {
	f := &fitter{events: events, stepS: stepS}
	f.middleS = (events[0].beepS + events[len(events)-1].beepS) / 2
	diff := make([]float64, len(events))
	for i, e := range events {
		diff[i] = e.flashS - e.beepS
	}
	half := 1.15*stepS + min(3*robustSD(diff), 45e-3) + 2e-3
	f.grid.stepS = min(max(stepS/200, 0.08e-3), 0.2e-3)
	f.grid.n = 2*int(half/f.grid.stepS) + 1
	f.grid.fromS = median(diff) - half
	f.sigma = math.Hypot(0.04, noise)
	return f
}

// driftGain is how much better a drift must explain the events, as a logarithm,
// before it is believed: otherwise noise of an 8 s recording would move the
// offset by milliseconds.
const driftGain = 5.0

// run estimates.
func (f *fitter) run() estimate {
	var out estimate
	guess, reach := f.slope()
	// What the best leaves over tells how true the model is.
	first := f.cells(f.coarse(), []int{plain}, scatters[1:4])
	f.sigma = f.residual(f.bestCell(first, guess), guess)
	cells := f.cells(f.coarse(), []int{plain}, scatters[:])
	d, gain := f.drift(cells, guess, reach)
	out.driftS, out.driftUS = f.driftU(cells, d)
	out.stepAt, out.stepGain = f.step(cells, d)
	span := f.events[len(f.events)-1].beepS - f.events[0].beepS
	need := driftGain
	if f.uneven {
		need *= 4
	}
	out.drifts = span > 8 && gain > need
	used := 0.0
	if out.drifts {
		used = out.driftS
	}
	cells = f.cells(f.finer(cells, used), frames(0, len(gammas)-1), f.likelyScatters(cells, used))
	f.integrate(cells, used, &out)
	return out
}

// slope is a first guess of the drift, from where the light passes one half in
// each event, and how far from it to look.
func (f *fitter) slope() (guess, reach float64) {
	var slopes []float64
	span := f.events[len(f.events)-1].beepS - f.events[0].beepS
	for i, a := range f.events {
		for _, b := range f.events[:i] {
			if d := a.beepS - b.beepS; d > span/4 {
				slopes = append(slopes, (a.flashS-a.beepS-b.flashS+b.beepS)/d)
			}
		}
	}
	// A rectangle of a frame has a deviation of T/sqrt(12), a slope that over
	// span/sqrt(12) and the root of the number of events.
	u := f.stepS / max(span, 1) / math.Sqrt(float64(len(f.events)))
	return min(max(median(slopes), -driftMost), driftMost), min(4*u+50e-6, driftMost)
}

func (f *fitter) coarse() []float64 {
	out := make([]float64, len(exposures))
	for i, e := range exposures {
		out[i] = e * f.stepS
	}
	return out
}

// finer returns exposures over the range that coarse cells do not rule out.
func (f *fitter) finer(cells []cell, drift float64) []float64 {
	best := math.Inf(-1)
	value := map[float64]float64{}
	for i := range cells {
		v := logSum(f.joint(&cells[i], drift)) + cells[i].prior
		if old, ok := value[cells[i].exposure]; !ok || v > old {
			value[cells[i].exposure] = v
		}
		best = max(best, v)
	}
	coarse := f.coarse()
	low, high := len(coarse)-1, 0
	for i, e := range coarse {
		if value[e] > best-5 {
			low, high = min(low, i), max(high, i)
		}
	}
	from, to := coarse[max(low-1, 0)], coarse[min(high+1, len(coarse)-1)]
	n := min(max(7, 2*(high-low)+3), 13)
	out := make([]float64, n)
	for j := range out {
		out[j] = from + (to-from)*float64(j)/float64(n-1)
	}
	return out
}

func (f *fitter) cells(exposures []float64, gammas []int, scatters []struct{ sdS, log float64 }) []cell {
	var out []cell
	for _, e := range exposures {
		for _, g := range gammas {
			raw := make([][]float64, len(f.events))
			for k := range f.events {
				raw[k] = f.events[k].logLikelihood(f.grid, e, g, f.sigma)
			}
			for _, s := range scatters {
				c := cell{exposure: e, gamma: g, scatter: s.sdS, prior: s.log + gammaLog(g)}
				for k := range f.events {
					c.each = append(c.each, mixed(raw[k], math.Hypot(s.sdS, f.events[k].beepU)/f.grid.stepS))
				}
				out = append(out, c)
			}
		}
	}
	return out
}

// joint returns the log density of the offset at middleS, events together.
func (f *fitter) joint(c *cell, drift float64) []float64 {
	sum := make([]float64, f.grid.n)
	for k, e := range c.each {
		// The event's own offset is the common one plus this.
		shift := drift * (f.events[k].beepS - f.middleS) / f.grid.stepS
		whole := int(math.Floor(shift))
		part := shift - float64(whole)
		last := len(e) - 1
		for i := range sum {
			a, b := min(max(i+whole, 0), last), min(max(i+whole+1, 0), last)
			sum[i] += e[a] + part*(e[b]-e[a])
		}
	}
	return sum
}

// evidence is the logarithm of how well cells explain the events at a drift,
// whatever the offset.
func (f *fitter) evidence(cells []cell, drift float64) float64 {
	all := make([]float64, len(cells))
	for i := range cells {
		all[i] = logSum(f.joint(&cells[i], drift)) + cells[i].prior
	}
	return logSum(all)
}

func logSum(xs []float64) float64 {
	top := slices.Max(xs)
	sum := 0.0
	for _, x := range xs {
		sum += math.Exp(x - top)
	}
	return top + math.Log(sum)
}

func (f *fitter) bestCell(cells []cell, drift float64) *cell {
	best, at := math.Inf(-1), 0
	for i := range cells {
		if v := logSum(f.joint(&cells[i], drift)) + cells[i].prior; v > best {
			best, at = v, i
		}
	}
	return &cells[at]
}

// likelyScatters are those that the events do not rule out.
func (f *fitter) likelyScatters(cells []cell, drift float64) []struct{ sdS, log float64 } {
	bySD := map[float64]float64{}
	best := math.Inf(-1)
	for i := range cells {
		v := logSum(f.joint(&cells[i], drift)) + cells[i].prior
		if old, ok := bySD[cells[i].scatter]; !ok || v > old {
			bySD[cells[i].scatter] = v
		}
		best = max(best, v)
	}
	var out []struct{ sdS, log float64 }
	for _, s := range scatters {
		if bySD[s.sdS] > best-7 {
			out = append(out, s)
		}
	}
	return out
}

// residual is the root mean square of what a cell leaves over, of events that
// belong, within bounds: neither noise nor the model is ever better than 0.01.
func (f *fitter) residual(c *cell, drift float64) float64 {
	offset := f.grid.at(argMax(f.joint(c, drift)))
	var squares []float64
	for k := range f.events {
		e := &f.events[k]
		own := f.grid.at(argMax(c.each[k]))
		if math.Abs(own-offset-drift*(e.beepS-f.middleS)) > f.stepS {
			continue
		}
		for _, s := range e.samples {
			d := s.share[c.gamma] - expected(e.beepS+own-s.atS, c.exposure, e.lastsS)
			squares = append(squares, d*d)
		}
	}
	// Without the worst twentieth, which the cap on a deviation is for.
	slices.Sort(squares)
	squares = squares[:len(squares)*19/20]
	return min(max(1.5*math.Sqrt(mean(squares)), 0.01), 0.2)
}

func argMax(xs []float64) int { return slices.Index(xs, slices.Max(xs)) }

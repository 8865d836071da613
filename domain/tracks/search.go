package tracks

import (
	"math"

	"delaybook/domain/recording"
)

const (
	leastQ     = 1.5    // unrelated sound stays below: TRACKS.md
	clearQ     = 2.0    // below, two thirds of the windows must agree
	leastZ     = 12.0   //
	leastAgree = 3      // windows
	agreeS     = 1e-3   // how near to the line an agreeing window is
	steepest   = 150e-6 // of the line through pieces, seconds a second; steeper ones smear and need a stretched track
	echoS      = 0.05   // a second peak nearer than this is a reflection
	mostPieces = 12
)

// A rung is a trial of the search: how far and how much the second track is
// moved and stretched before pieces of it are compared.
type rung struct{ delayS, drift float64 }

// The search tries most likely things first: no drift, delays that leave little
// of a piece in common, frame rates mixed up by 1000/1001, other wrong clocks.
var ladder = []rung{
	{0, 0},
	{1.3, 0},
	{-1.3, 0},
	{0, 1e-3},
	{0, -1e-3},
	{0, 250e-6},
	{0, -250e-6},
	{0, 500e-6},
	{0, -500e-6},
	{0, 750e-6},
	{0, -750e-6},
}

// search finds the line that the delay follows, and measures along it.
func search(p *pair) (*measured, *recording.Refusal) {
	length := int(min(4, max(1, p.durationS/2)) * workRate)
	c := newCorrelator(length, reachSamples, p.highHz)
	strong := 0
	why := unrelated()
	for i, try := range ladder {
		second, pieces := p.second, mostPieces
		if i > 0 {
			second, pieces = p.render(1, try.delayS, try.drift), mostPieces/2
		}
		all := c.windows(p.first, second, pieces)
		if i == 0 {
			strong = countStrong(all)
		}
		l, near := consensus(points(all), p.durationS/2, steepest, agreeS)
		if len(near) < leastAgree || 3*len(near) < len(all) {
			continue
		}
		l.at, l.slope = l.at+try.delayS, l.slope+try.drift
		m, refusal := p.measureAlong(l)
		if refusal == nil {
			return m, nil
		}
		if why = refusal; why.Code != recording.Unrelated {
			break
		}
	}
	return nil, p.whyNot(why, strong)
}

// measureAlong measures along a line. The windows of a short recording share
// their sound and agree on a delay whatever its drift, so that the drifts there
// may be are tried, and the one that makes the sharpest peak is taken.
func (p *pair) measureAlong(l line) (*measured, *recording.Refusal) {
	if !p.short() {
		return measure(p, l)
	}
	var best *measured
	var why *recording.Refusal
	for _, drift := range []float64{0, 1e-3, -1e-3} {
		m, refusal := measure(p, line{l.at, drift, l.midS})
		if refusal == nil && (best == nil || m.z > 1.1*best.z) {
			best = m
		}
		if drift == 0 {
			why = refusal
		}
	}
	if best != nil {
		return best, nil
	}
	return nil, why
}

func countStrong(windows []window) int {
	n := 0
	for i := range windows {
		if windows[i].strong() {
			n++
		}
	}
	return n
}

// whyNot says why no rung of the ladder led to a delay; why is what the last one said.
func (p *pair) whyNot(why *recording.Refusal, strong int) *recording.Refusal {
	for i, samples := range [][]float64{p.first, p.second} {
		if richness(samples, p.highHz) < poor {
			return tonal(names[i])
		}
	}
	switch {
	case why.Code != recording.Unrelated:
		return why
	case strong >= leastAgree:
		return jumps()
	}
	whole := newCorrelator(len(p.first), reachSamples, p.highHz)
	g := whole.cross(p.first, p.second)
	whole.whiten(g)
	return unclear(whole.find(g, reachSamples))
}

const reachSamples = int(reachS * workRate)

// unclear says why a peak does not count.
func unclear(k peak) *recording.Refusal {
	if k.z >= leastZ && math.Abs(k.next-k.delay) < echoS*workRate {
		return echo()
	}
	return unrelated()
}

// A window is what one pair of pieces says.
type window struct {
	t        float64 // the middle of the window, seconds from the start of the pair
	delayS   float64
	q, z     float64
	inverted bool
	from     int // first sample
	used     bool
	weight   float64
}

// strong tells whether the window alone shows a delay.
func (w *window) strong() bool { return w.q >= leastQ && w.z >= leastZ }

// windows compares up to most pieces, spread evenly. Pieces in which a track
// is 50 dB quieter than on the whole are left out.
func (c *correlator) windows(first, second []float64, most int) []window {
	var all []window
	for _, from := range starts(len(first), len(c.taper), most) {
		w := window{from: from, t: (float64(from) + float64(len(c.taper))/2) / workRate}
		a, b := c.piece(first, from), c.piece(second, from)
		if quiet(a, first) || quiet(b, second) {
			continue
		}
		g := c.cross(a, b)
		c.whiten(g)
		k := c.find(g, reachSamples)
		w.delayS, w.q, w.z, w.inverted = k.delay/workRate, k.q, k.z, k.inverted
		all = append(all, w)
	}
	return all
}

func (c *correlator) piece(x []float64, from int) []float64 { return x[from : from+len(c.taper)] }

func quiet(piece, whole []float64) bool { return rms(piece) < 3e-3*rms(whole) }

// starts returns where pieces of length samples begin that overlap by half, by
// more if that gives fewer than five, and by less if it gives more than most.
func starts(total, length, most int) []int {
	room := total - length
	n := min(most, max(5, 2*room/length+1))
	at := make([]int, 0, n)
	for i := range n {
		at = append(at, int(float64(room)*float64(i)/float64(n-1)))
	}
	return at
}

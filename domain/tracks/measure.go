package tracks

import (
	"math"

	"delaybook/domain/recording"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	mostWindows = 60
	slopeWide   = 1.3   // the windows at the ends carry a slope, and their errors have long tails: by the study in TRACKS.md
	usualDrift  = 50e-6 // standard uncertainty of a drift that nothing shows: crystals, common practice, no source
)

// A measured is what the windows say together.
type measured struct {
	line     line
	windows  []window // delays of the whole, not of what alignment left
	inverted bool
	z        float64
	short    bool    // no drift is fitted
	uS       float64 // standard uncertainty of the delay in the middle, from scatter alone
	slopeU   float64
	spreadS  float64 // standard deviation of a window about the line
	weak     bool
}

// measure aligns the tracks on a line and measures what is left.
func measure(p *pair, l line) (*measured, *recording.Refusal) {
	length := int(min(3, max(1, 0.4*p.durationS)) * workRate)
	c := newCorrelator(length, reachSamples, p.highHz)
	var second []float64
	var windows []window
	// Again only if the line was so steep that it blurred the windows, or the tracks lay far apart.
	for range 3 {
		second = p.render(1, l.at, l.slope)
		windows = c.windows(p.first, second, mostWindows)
		rest, near := consensus(points(windows), l.midS, steepest, agreeS)
		if len(near) < leastAgree {
			return nil, unrelated()
		}
		if (p.short() || math.Abs(rest.slope)*p.durationS < 1e-4) && math.Abs(rest.at) < 1e-3 {
			break
		}
		if p.short() {
			rest = line{rest.at, 0, l.midS}
		}
		l = line{l.at + rest.at, l.slope + rest.slope, l.midS}
	}
	stack := c.stack(p.first, second, windows)
	if stack.q < leastQ || stack.z < leastZ {
		return nil, unclear(stack)
	}
	agree, off := sort(windows, stack.delay/workRate)
	switch {
	case off >= leastAgree && 6*off > agree:
		return nil, jumps()
	case agree < leastAgree, stack.q < clearQ && 3*agree < 2*len(windows):
		return nil, unrelated()
	}
	m := &measured{inverted: stack.inverted, z: stack.z, short: p.short(), weak: stack.q < clearQ || 2*agree < len(windows)}
	c.sharpen(p.first, second, windows, stack)
	m.fit(l, windows, float64(length)/workRate)
	return m, nil
}

func points(windows []window) []point {
	all := make([]point, len(windows))
	for i, w := range windows {
		all[i] = point{w.t, w.delayS}
	}
	return all
}

// stack returns the peak of the sum of all windows' whitened correlations.
func (c *correlator) stack(first, second []float64, windows []window) peak {
	sum := make([]complex128, len(c.a))
	for _, w := range windows {
		g := c.cross(c.piece(first, w.from), c.piece(second, w.from))
		c.whiten(g)
		for k, v := range g {
			sum[k] += v
		}
	}
	return c.find(sum, reachSamples)
}

// sort marks the windows that agree with a delay, and counts them and those that
// contradict it by themselves.
func sort(windows []window, delayS float64) (agree, off int) {
	for i := range windows {
		w := &windows[i]
		w.used = math.Abs(w.delayS-delayS) <= agreeS
		switch {
		case w.used:
			agree++
		case w.strong():
			off++
		}
	}
	return agree, off
}

// fit puts a line through the windows in use and says how well it is known.
// The windows' delays are what is left of the line l; afterwards they are whole.
func (m *measured) fit(l line, windows []window, lengthS float64) {
	dropOutliers(windows, m.through(fitted(windows), l.midS))
	used := fitted(windows)
	rest := m.through(used, l.midS)
	m.uncertainty(used, rest, lengthS)
	m.line, m.windows = line{l.at + rest.at, l.slope + rest.slope, l.midS}, windows
	for i := range windows {
		w := &windows[i]
		r := (w.delayS - rest.delay(w.t)) / max(3*m.spreadS, 1e-6)
		w.delayS += l.delay(w.t)
		if w.used {
			w.weight = 1 / (1 + r*r)
		}
	}
}

func (m *measured) through(points []point, midS float64) line {
	if !m.short {
		return theilSen(points, midS)
	}
	delays := make([]float64, len(points))
	for i, p := range points {
		delays[i] = p.delay
	}
	return line{median(delays), 0, midS}
}

func fitted(windows []window) []point {
	var used []point
	for _, w := range windows {
		if w.used {
			used = append(used, point{w.t, w.delayS})
		}
	}
	return used
}

// dropOutliers takes windows out of use that lie further from the line than five
// robust standard deviations, as long as half remain.
func dropOutliers(windows []window, l line) {
	var away []float64
	for _, w := range windows {
		if w.used {
			away = append(away, math.Abs(w.delayS-l.delay(w.t)))
		}
	}
	n := len(away)
	limit := max(5*1.4826*median(away), 2e-6)
	kept := 0
	for _, r := range away {
		if r <= limit {
			kept++
		}
	}
	if kept < leastAgree || 2*kept < n {
		return
	}
	for i := range windows {
		w := &windows[i]
		w.used = w.used && math.Abs(w.delayS-l.delay(w.t)) <= limit
	}
}

// uncertainty sets what the scatter of windows about their line says.
func (m *measured) uncertainty(used []point, l line, lengthS float64) {
	squares, tt, meanT, n := 0.0, 0.0, 0.0, float64(len(used))
	for _, u := range used {
		meanT += u.t / n
	}
	for _, u := range used {
		r := u.delay - l.delay(u.t)
		squares += r * r
		tt += (u.t - meanT) * (u.t - meanT)
	}
	m.spreadS = math.Sqrt(squares / max(1, n-2))
	// Windows that overlap share sound: they count for what lies side by side, tapered ends left out.
	independent := 1 + (used[len(used)-1].t-used[0].t)/(lengthS*(1-taperPart))
	share := max(1, n/independent)
	// Few windows know their own scatter badly: twice this covers 95 %.
	wide := distuv.StudentsT{Sigma: 1, Nu: max(1, independent-2)}.Quantile(0.975) / 2
	m.slopeU = slopeWide * wide * m.spreadS * math.Sqrt(share/max(tt, 1e-9))
	if m.short {
		m.slopeU = usualDrift
	}
	m.uS = math.Hypot(wide*m.spreadS*math.Sqrt(share/n), m.slopeU*(l.midS-meanT))
}

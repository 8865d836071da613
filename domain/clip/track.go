package clip

import (
	"math"
	"slices"

	"delaybook/domain/recording"
)

// track measures every stretch of one track, or says why there is none.
func (a *analysis) track(h *hearing) ([]recording.Finding, recording.RefusalCode) {
	if len(a.o.Segments) == 0 {
		return a.within(h, Span{math.Inf(-1), math.Inf(1)})
	}
	var all []recording.Finding
	var refused recording.RefusalCode
	for _, s := range a.o.Segments {
		found, why := a.within(h, s)
		all = append(all, found...)
		if why != "" {
			refused = why
		}
	}
	if len(all) > 0 && refused != "" {
		a.flags = append(a.flags, recording.FlagUnmatched)
	}
	return all, refused
}

// within measures the events whose beep lies in a span.
func (a *analysis) within(h *hearing, s Span) ([]recording.Finding, recording.RefusalCode) {
	var flash, sound []float64
	var glows []int
	var beeps []beep
	for i, g := range a.glows {
		if near := (Span{s.FromS - reachS, s.ToS + reachS}); near.holds(g.atS) {
			flash = append(flash, g.atS)
			glows = append(glows, i)
		}
	}
	for _, b := range h.beeps {
		if s.holds(b.atS) {
			sound = append(sound, b.atS)
			beeps = append(beeps, b)
		}
	}
	if len(flash) == 0 {
		return nil, recording.NoFlashes
	}
	if len(sound) < 2 {
		return nil, recording.NoBeeps
	}
	matches, why := join(flash, sound, a.film.clock.periodS)
	if why != "" {
		return nil, why
	}
	var out []recording.Finding
	for _, m := range matches {
		for i, p := range m.pairs {
			m.pairs[i].flash = glows[p.flash]
		}
		out = append(out, a.stretches(h, beeps, m, 0)...)
	}
	a.boundaries(out, s, flash, sound, h)
	return out, ""
}

// boundaries sets where findings begin and end and what was seen in all.
func (a *analysis) boundaries(fs []recording.Finding, s Span, flash, sound []float64, h *hearing) {
	for i := range fs {
		fs[i].FromS = max(s.FromS, a.film.pts[0])
		fs[i].ToS = min(s.ToS, a.film.pts[len(a.film.pts)-1]+a.film.clock.periodS)
		if i > 0 {
			last := fs[i-1].Events[len(fs[i-1].Events)-1].AtS
			fs[i].FromS = (last + fs[i].Events[0].AtS) / 2
			fs[i-1].ToS = fs[i].FromS
		}
	}
	odd := a.alone(fs, s, flash, sound, h)
	for i := range fs {
		fs[i].FlashesSeen, fs[i].BeepsHeard = len(flash), len(sound)
		if len(fs) > 1 {
			fs[i].Flags = append(fs[i].Flags, recording.FlagUnstable)
			fs[i].FlashesSeen, fs[i].BeepsHeard = len(fs[i].Events), len(fs[i].Events)
		}
		if odd {
			fs[i].Flags = append(fs[i].Flags, recording.FlagUnmatched)
		}
	}
}

// alone tells whether a flash or beep has no other half though that would lie
// within the recording, half a second from its ends.
func (a *analysis) alone(fs []recording.Finding, s Span, flash, sound []float64, h *hearing) bool {
	const margin = 0.5
	start, end := max(h.startS, s.FromS), min(h.startS+float64(len(h.x))/h.rate, s.ToS)
	filmEnd := a.film.pts[len(a.film.pts)-1]
	lonely := func(t, sign, from, to float64, at func(recording.Event) float64, tolerance float64) bool {
		missed := false
		for _, f := range fs {
			if slices.ContainsFunc(f.Events, func(e recording.Event) bool { return math.Abs(at(e)-t) < tolerance }) {
				return false
			}
			other := t + sign*f.OffsetMS/1e3
			missed = missed || other > from+margin && other < to-margin
		}
		return missed
	}
	beepAt := func(e recording.Event) float64 { return e.AtS }
	flashAt := func(e recording.Event) float64 { return e.AtS + e.OffsetMS/1e3 }
	return slices.ContainsFunc(flash, func(t float64) bool {
		return lonely(t, -1, start, end, flashAt, 2*a.film.clock.periodS)
	}) || slices.ContainsFunc(sound, func(t float64) bool {
		return lonely(t, 1, a.film.pts[0], filmEnd, beepAt, 1e-3)
	})
}

// mostCuts bounds how often a stretch is cut in two.
const mostCuts = 4

// stretches fits the events of a match, and the parts of it if its offset steps
// by less than pairing can tell apart.
func (a *analysis) stretches(h *hearing, beeps []beep, m match, depth int) []recording.Finding {
	if depth == 0 {
		a.findReadout(beeps, m)
	}
	events, kept := a.events(beeps, m)
	if len(events) < fewest {
		return nil
	}
	m.pairs = kept
	fit := newFitter(events, a.sampleS(), a.noise(m))
	fit.uneven = a.repeats || held(events, fit.stepS)
	used := make([]beep, len(m.pairs))
	for i, p := range m.pairs {
		used[i] = beeps[p.beep]
	}
	if offsets, ok := a.direct(h, fit, m); ok {
		return []recording.Finding{a.directFinding(h, fit, offsets, used)}
	}
	e := fit.run()
	if cut := stepAt(e, fit); cut > 0 && depth < mostCuts {
		first, second := m, m
		first.pairs, second.pairs = m.pairs[:cut], m.pairs[cut:]
		return append(a.stretches(h, beeps, first, depth+1), a.stretches(h, beeps, second, depth+1)...)
	}
	return []recording.Finding{a.finding(h, fit, e, m, used)}
}

// sampleS is the time between samples of light: a frame, or a field.
func (a *analysis) sampleS() float64 {
	if a.rows.scan != recording.Progressive {
		return a.film.clock.periodS / 2
	}
	return a.film.clock.periodS
}

func (a *analysis) noise(m match) float64 {
	var all []float64
	for _, p := range m.pairs {
		all = append(all, a.glows[p.flash].noise)
	}
	return median(all)
}

// events turns pairs into events for the fit and leaves out those whose light
// could not be measured.
func (a *analysis) events(beeps []beep, m match) ([]event, []pair) {
	var out []event
	var kept []pair
	for _, p := range m.pairs {
		g, b := &a.glows[p.flash], beeps[p.beep]
		if g.mask == nil {
			continue
		}
		e := event{flashS: g.atS, beepS: b.atS, beepU: b.uS, samples: a.samples(g, a.rows.readout)}
		if g.short {
			e.lastsS = float64(g.whole) * a.film.clock.periodS
		}
		out = append(out, e)
		kept = append(kept, p)
	}
	return out, kept
}

// samples lists the light of a flash in order of time, fields or bands of rows
// apart if they are.
func (a *analysis) samples(g *glow, readout float64) []sample {
	if a.rows.scan != recording.Progressive {
		return a.fieldSamples(g)
	}
	period := a.film.clock.periodS
	if readout != 0 && len(g.bands) > 0 {
		return bandSamples(g, a.film.pts[g.from:], period, readout)
	}
	out := make([]sample, len(g.share[plain][0]))
	for i := range out {
		out[i] = sample{atS: a.film.pts[g.from+i] + period/2, parts: 1}
		for j := range gammas {
			out[i].share[j] = (g.share[j][0][i] + g.share[j][1][i]) / 2
		}
	}
	return out
}

func (a *analysis) fieldSamples(g *glow) []sample {
	first := 0
	if a.rows.scan == recording.BottomFirst {
		first = 1
	}
	var out []sample
	for i := range g.share[plain][0] {
		for field := range 2 {
			at := a.film.pts[g.from+i] + a.film.clock.periodS*(0.25+0.5*float64(field))
			s := sample{atS: at, parts: 1}
			for j := range gammas {
				s.share[j] = g.share[j][(first+field)%2][i]
			}
			out = append(out, s)
		}
	}
	return out
}

// stepAt returns the event before which the offset steps, 0 if it does not. A
// step must explain the events far better than a drift does, and be no mere
// scatter of them.
func stepAt(e estimate, f *fitter) int {
	need := stepGain
	if f.uneven {
		need *= 4
	}
	if e.stepGain < need {
		return 0
	}
	y := make([]float64, len(e.each))
	for i, one := range e.each {
		y[i] = one.offsetS
	}
	if jump := math.Abs(median(y[e.stepAt:]) - median(y[:e.stepAt])); jump < 3e-3 {
		return 0
	}
	return e.stepAt
}

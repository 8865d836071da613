package clip

import (
	"math"
	"slices"

	"delaybook/domain/recording"
)

// Limits of pairing. The card's intervals keep all offsets within reach apart by
// 45 ms or more, so tolerances stay below half of that where the frame allows.
const (
	reachS    = 2.3
	fewest    = 4
	driftMost = 2000e-6
	driftStep = 250e-6
)

// A pair joins a flash and a beep by their places in the lists.
type pair struct{ flash, beep int }

// A match is one offset with the pairs it joins.
type match struct {
	offsetS float64 // at the middle of the beeps
	drift   float64
	spread  float64
	pairs   []pair
}

// A pairing is all that was tried on lists of flashes and beeps.
type pairing struct {
	flash, beep []float64 // instants, in order
	toleranceS  float64
	middleS     float64
}

func newPairing(flash, beep []float64, periodS float64) pairing {
	p := pairing{flash: flash, beep: beep, toleranceS: max(6e-3+0.55*periodS, 22e-3)}
	if n := len(beep); n > 0 {
		p.middleS = (beep[0] + beep[n-1]) / 2
	}
	return p
}

// best returns the match of most pairs and the strongest other one: another
// offset that joins flashes of the best again.
func (p pairing) best() (best, other match) {
	var all []match
	for _, offset := range p.candidates() {
		m := p.try(offset, 0)
		if len(m.pairs) >= 3 {
			all = append(all, m)
		}
	}
	for i, m := range all {
		for d := -driftMost; d <= driftMost; d += driftStep {
			if t := p.try(m.offsetS, d); t.betterThan(all[i]) {
				all[i] = t
			}
		}
	}
	for _, m := range all {
		if m.betterThan(best) {
			best = m
		}
	}
	away := max(30e-3, 2.5*p.toleranceS)
	for _, m := range all {
		if math.Abs(m.offsetS-best.offsetS) > away && overlap(m, best) >= 0.25 && m.betterThan(other) {
			other = m
		}
	}
	return best, other
}

// candidates are offsets near which two or more differences lie.
func (p pairing) candidates() []float64 {
	var d []float64
	for _, f := range p.flash {
		for _, b := range p.beep {
			if math.Abs(f-b) <= reachS {
				d = append(d, f-b)
			}
		}
	}
	slices.Sort(d)
	var out []float64
	for i, j := 0, 0; i < len(d); i++ {
		for d[i]-d[j] > 2*p.toleranceS {
			j++
		}
		middle := (d[i] + d[j]) / 2
		if i > j && (len(out) == 0 || middle-out[len(out)-1] > p.toleranceS/4) {
			out = append(out, middle)
		}
	}
	return out
}

// try joins each beep with the nearest flash within tolerance, each once.
func (p pairing) try(offset, drift float64) match {
	m := match{offsetS: offset, drift: drift}
	var rest []float64
	last := -1
	for i, b := range p.beep {
		want := b + offset + drift*(b-p.middleS)
		at, _ := slices.BinarySearch(p.flash, want)
		if at > 0 && (at == len(p.flash) || want-p.flash[at-1] < p.flash[at]-want) {
			at--
		}
		if at < len(p.flash) && at > last && math.Abs(p.flash[at]-want) <= p.toleranceS {
			m.pairs = append(m.pairs, pair{at, i})
			rest = append(rest, p.flash[at]-want)
			last = at
		}
	}
	if len(rest) > 0 {
		m.offsetS += median(rest)
		m.spread = robustSD(rest)
	}
	return m
}

// betterThan prefers more pairs, then less spread and less drift.
func (m match) betterThan(o match) bool {
	if len(m.pairs) != len(o.pairs) {
		return len(m.pairs) > len(o.pairs)
	}
	cost := func(m match) float64 { return m.spread + math.Abs(m.drift)*2 }
	return cost(m) < cost(o)
}

// dense tells whether most flashes and beeps between the first and the last pair
// are paired. By chance a wrong offset joins some, far apart.
func (m match) dense() bool {
	first, last := m.pairs[0], m.pairs[len(m.pairs)-1]
	return 10*len(m.pairs) >= 7*max(last.flash-first.flash+1, last.beep-first.beep+1)
}

// overlap is the share of the flashes of a that b uses too.
func overlap(a, b match) float64 {
	used := map[int]bool{}
	for _, p := range b.pairs {
		used[p.flash] = true
	}
	n := 0
	for _, p := range a.pairs {
		if used[p.flash] {
			n++
		}
	}
	return float64(n) / float64(max(len(a.pairs), 1))
}

// join returns the matches of a recording in order of time, one for each stretch
// of one offset, or why there are none.
func join(flash, beep []float64, periodS float64) ([]match, recording.RefusalCode) {
	p := newPairing(flash, beep, periodS)
	best, other := p.best()
	if len(best.pairs) < fewest {
		return nil, recording.TooFew
	}
	if float64(len(other.pairs)) > 0.6*float64(len(best.pairs)) {
		if 2*len(best.pairs) < min(len(flash), len(beep)) {
			return nil, recording.Unpaired
		}
		return nil, recording.Ambiguous
	}
	found := []match{best}
	paired := len(best.pairs)
	for {
		next, ok := stretch(flash, beep, periodS, found)
		if !ok {
			break
		}
		found = append(found, next)
		paired += len(next.pairs)
	}
	fewer := min(len(flash), len(beep))
	if 2*paired < fewer || paired < 8 && 10*paired < 7*fewer {
		return nil, recording.Unpaired
	}
	if slices.ContainsFunc(found, func(m match) bool { return !m.dense() }) && 10*paired < 8*fewer {
		return nil, recording.Unpaired
	}
	found = apart(found)
	slices.SortFunc(found, func(a, b match) int { return a.pairs[0].beep - b.pairs[0].beep })
	return found, ""
}

// stretch looks for another offset among what no match has joined. It must lie
// between the others in time: two offsets at a time are not a step.
func stretch(flash, beep []float64, periodS float64, found []match) (match, bool) {
	usedFlash, usedBeep := map[int]bool{}, map[int]bool{}
	for _, m := range found {
		for _, q := range m.pairs {
			usedFlash[q.flash], usedBeep[q.beep] = true, true
		}
	}
	restFlash, flashAt := without(flash, usedFlash)
	restBeep, beepAt := without(beep, usedBeep)
	next, other := newPairing(restFlash, restBeep, periodS).best()
	if len(next.pairs) < fewest || float64(len(other.pairs)) > 0.6*float64(len(next.pairs)) {
		return match{}, false
	}
	for i, q := range next.pairs {
		next.pairs[i] = pair{flashAt[q.flash], beepAt[q.beep]}
	}
	if !next.dense() {
		return match{}, false
	}
	first, last := next.pairs[0].beep, next.pairs[len(next.pairs)-1].beep
	for _, m := range found {
		inside := 0
		for _, q := range m.pairs {
			if q.beep > first && q.beep < last {
				inside++
			}
		}
		if inside > 1 {
			return match{}, false
		}
	}
	return next, true
}

// apart cuts matches where events of another lie between: offsets that are close
// to each other were joined, though a third came in between.
func apart(found []match) []match {
	var out []match
	for _, m := range found {
		rest := m
		for j := 1; j < len(rest.pairs); j++ {
			between := slices.ContainsFunc(found, func(o match) bool {
				return o.pairs[0].beep != m.pairs[0].beep &&
					o.pairs[0].beep > rest.pairs[j-1].beep && o.pairs[len(o.pairs)-1].beep < rest.pairs[j].beep
			})
			if !between {
				continue
			}
			part := rest
			part.pairs = rest.pairs[:j]
			rest.pairs = rest.pairs[j:]
			out = append(out, part)
			j = 0
		}
		out = append(out, rest)
	}
	return slices.DeleteFunc(out, func(m match) bool { return len(m.pairs) < fewest })
}

// without returns the values that are not used, and where they were.
func without(xs []float64, used map[int]bool) (rest []float64, at []int) {
	for i, x := range xs {
		if !used[i] {
			rest = append(rest, x)
			at = append(at, i)
		}
	}
	return rest, at
}

package plan

import "slices"

// sounds is rule 3: part by part, then without the controls that carry most paths, until every
// control is fixed.
func (pl *planner) sounds() {
	paths := pl.soundPaths()
	var free []*group
	for _, g := range pl.groups {
		if g.signal == Sound {
			free = append(free, g)
		}
	}
	todo := pl.parts(free)
	for len(todo) > 0 {
		part := todo[0]
		todo = todo[1:]
		pl.part(part)
		most := 0
		for _, g := range part {
			most = max(most, paths[g.members[0]])
		}
		left := slices.DeleteFunc(slices.Clone(part), func(g *group) bool { return paths[g.members[0]] == most })
		todo = append(todo, pl.parts(left)...)
	}
}

// soundPaths is how many (sound chain, destination) paths each control delays.
func (pl *planner) soundPaths() []int {
	out := make([]int, len(pl.rig.controls))
	for _, p := range pl.distinctPaths(func(k pathKey) pathKey { return pathKey{sound: k.sound, destination: k.destination} }) {
		for _, c := range pl.rig.pairs[p].sound {
			out[c]++
		}
	}
	return out
}

// A soundPart is one part while it is solved, with its rows by role.
type soundPart struct {
	*view
	hard, soft, given []pairRow
}

// part solves one part by all the criteria of rule 3 and writes it into the incumbent.
func (pl *planner) part(gs []*group) {
	s := pl.openPart(gs)
	worst := s.raiseWorst()
	for _, row := range s.soft {
		s.raiseOne(row)
	}
	for _, row := range s.given {
		s.raiseOne(row)
	}
	s.sparefeeds()
	if !s.decided() {
		s.fewestChanged()
	}
	s.nearest()
	s.laterSound()
	if !s.decided() {
		s.fewestOffMin()
	}
	s.listOrder(func(*group) bool { return true })
	s.controls(pl.at, s.inc)
	for _, g := range gs {
		for _, c := range g.members {
			pl.worst[c] = worst
		}
	}
}

func (pl *planner) openPart(gs []*group) *soundPart {
	s := &soundPart{view: newView(pl.rig, pl.work, gs, pl.at)}
	for i := range s.counted {
		s.counted[i] = true
	}
	for _, p := range pl.partPairs(gs) {
		row := s.addPair(p)
		s.rows = append(s.rows, row)
		switch pl.rig.pairs[p].role {
		case RoleHard:
			s.hard = append(s.hard, row)
			if x, ok := s.atLevel(row, pl.need[p]); ok {
				s.require([]bound{x})
			}
		case RoleSoft:
			s.soft = append(s.soft, row)
		case RoleGivenUp:
			s.given = append(s.given, row)
		}
	}
	s.addCuts()
	s.holdFeeds(-1)
	s.settle()
	return s
}

// partPairs lists the counted pairs with a control of the groups on their sound path.
func (pl *planner) partPairs(gs []*group) []int {
	var out []int
	for _, g := range gs {
		out = append(out, pl.pairsOf[g.members[0]]...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// raiseWorst has the smallest level of the hard rows as high as possible; it returns it.
func (s *soundPart) raiseWorst() int {
	if len(s.hard) == 0 {
		return noWorst
	}
	smallest := func(level func(pairRow) int) int64 {
		least := topLevel
		for _, row := range s.hard {
			least = min(least, level(row))
		}
		return int64(least)
	}
	value := func(at []int) int64 {
		return smallest(func(row pairRow) int { return s.levelOf(row, at) })
	}
	return int(s.maximise(criterion{
		have: value(s.inc), best: smallest(s.bestLevel), value: value,
		with: func(t int64) ([]bound, limits) { return s.all(s.hard, int(t)), noLimits },
	}))
}

// all asks one level of several rows.
func (s *soundPart) all(rows []pairRow, want int) []bound {
	out := make([]bound, len(rows))
	for i, row := range rows {
		out[i], _ = s.atLevel(row, want)
	}
	return out
}

// raiseOne has a soft row, or one given up, as high as possible. Beside hard pairs what cannot reach
// 1 does not pull: levels below 1 count as 0.
func (s *soundPart) raiseOne(row pairRow) {
	if s.decided() {
		return
	}
	count := func(level int) int64 {
		if len(s.hard) > 0 {
			level = max(level, 0)
		}
		return int64(min(level, topLevel))
	}
	value := func(at []int) int64 { return count(s.levelOf(row, at)) }
	s.maximise(criterion{
		have: value(s.inc), best: count(s.bestLevel(row)), value: value,
		with: func(t int64) ([]bound, limits) {
			if len(s.hard) > 0 && t <= 0 {
				return nil, noLimits
			}
			return s.all([]pairRow{row}, int(t)), noLimits
		},
	})
}

// sparefeeds has the sum of delays on live feeds as small as possible.
func (s *soundPart) sparefeeds() {
	weights := make([]int64, len(s.vars))
	for i := range s.rig.feeds {
		for _, c := range s.rig.feeds[i].controls {
			if x := s.of[c]; x >= 0 && s.vars[x].members[0] == c {
				weights[x]++
			}
		}
	}
	if f := s.weighted(weights); f >= 0 && !s.decided() {
		s.lessen(f)
	}
}

// nearest has the largest |after| over the hard rows, or without any over the others, smallest.
func (s *soundPart) nearest() {
	rows := s.hard
	if len(rows) == 0 {
		rows = s.rows
	}
	if len(rows) == 0 || s.decided() {
		return
	}
	value := func(at []int) int64 {
		largest := int64(0)
		for _, row := range rows {
			after := s.after(row, at)
			largest = max(largest, after, -after)
		}
		return -largest
	}
	floor := int64(0)
	for _, row := range rows {
		least, most := s.reach(row.form)
		floor = max(floor, row.offset+least, -row.offset-most)
	}
	s.maximise(criterion{
		have: value(s.inc), best: -floor, value: value,
		with: func(t int64) ([]bound, limits) {
			out := make([]bound, len(rows))
			for i, row := range rows {
				out[i] = bound{row.form, t - row.offset, -t - row.offset}
			}
			return out, noLimits
		},
	})
}

// laterSound has the sum of after over the part's pairs smallest: the sound delays, weighted by the
// pairs they reach, largest. No row can be later than its own bound, which bounds the sum closely.
func (s *soundPart) laterSound() {
	weights := make([]int64, len(s.vars))
	most := int64(0)
	for _, row := range s.rows {
		for _, t := range s.forms[row.form].terms {
			weights[t.v]++
		}
		least, largest := s.reach(row.form)
		lo, _ := s.round(&s.root, s.forms[row.form].terms, least, max(s.root.a[row.form], least), largest)
		most -= lo
	}
	if f := s.weighted(weights); f >= 0 && !s.decided() {
		s.enlargeTo(f, most)
	}
}

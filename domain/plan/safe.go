package plan

import "slices"

// A planner works one plan out.
type planner struct {
	rig     *rig
	work    *search
	groups  []*group
	pairsOf [][]int // counted pairs by control
	at      []int   // the incumbent, a grid index per control
	hard    []int   // kept hard pairs
	need    []int   // level to hold, by pair; meaningless for others than kept hard pairs
	worst   []int   // by control: smallest level its part reached, noWorst where no hard pair
	reached int     // level all kept hard pairs reach together
	short   bool    // the target was not reached by all hard pairs
}

const noWorst = -1

// safe is rule 1. It leaves the joint view with the needs required and an incumbent that holds them.
func (pl *planner) safe() *view {
	v := pl.joint(-1)
	for i := range pl.rig.pairs {
		if pl.rig.pairs[i].role == RoleHard {
			pl.hard = append(pl.hard, i)
		}
	}
	pl.reached = pl.rig.target
	target := func(int) int { return pl.rig.target }
	if pl.feasible(v, pl.hard, target) == reached {
		for _, p := range pl.hard {
			pl.need[p] = pl.rig.target
		}
	} else {
		pl.short = true
		pl.giveUp(v)
	}
	bounds, _ := pl.bounds(v, pl.hard, func(p int) int { return pl.need[p] })
	v.require(bounds)
	v.settle()
	return v
}

// joint is the view of all groups, feeds held but for one (-1: all), with a row for every pair.
func (pl *planner) joint(exceptFeed int) *view {
	v := newView(pl.rig, pl.work, pl.groups, pl.at)
	for i := range pl.rig.pairs {
		v.rows = append(v.rows, v.addPair(i))
	}
	v.addCuts()
	v.holdFeeds(exceptFeed)
	v.settle()
	return v
}

// bounds asks a level of each of some pairs; ok is false when one cannot reach it at all.
func (pl *planner) bounds(v *view, pairs []int, want func(p int) int) (out []bound, ok bool) {
	ok = true
	for _, p := range pairs {
		x, can := v.atLevel(v.rows[p], want(p))
		ok = ok && can
		if can && v.rows[p].form >= 0 {
			out = append(out, x)
		}
	}
	return out, ok
}

// feasible says whether some pairs can reach levels together; the incumbent follows.
func (pl *planner) feasible(v *view, pairs []int, want func(p int) int) answer {
	bounds, ok := pl.bounds(v, pairs, want)
	if !ok {
		return refuted
	}
	got := v.decide(bounds, noLimits)
	if got == reached {
		v.inc = append(v.inc[:0], pl.work.found...)
	}
	return got
}

// giveUp decides which hard pairs to keep and how high they come together.
func (pl *planner) giveUp(v *view) {
	floor, solo := pl.floors(), map[int]int{}
	pl.hard = slices.DeleteFunc(pl.hard, func(p int) bool {
		solo[p] = pl.solo(v, p, floor[p])
		return solo[p] < floor[p]
	})
	want := func(p int) int { return floor[p] }
	clashes := map[int]map[int]bool{}
	for pl.feasible(v, pl.hard, want) != reached {
		conflict := pl.conflict(v, pl.hard, want)
		if pl.work.over || len(conflict) == 0 {
			pl.keepWhatHolds(v, want)
			break
		}
		drop := pl.mostClashing(v, conflict, want, clashes)
		pl.hard = slices.DeleteFunc(pl.hard, func(p int) bool { return p == drop })
	}
	pl.reached = int(v.largest(pl.together(v, floor, solo)))
	for _, p := range pl.hard {
		pl.need[p] = max(floor[p], min(pl.reached, solo[p]))
	}
	pl.markGivenUp()
}

// floors is the level under which a hard pair is given up: half of what its window allows at best,
// at most one half.
func (pl *planner) floors() []int {
	out := make([]int, len(pl.rig.pairs))
	for i := range out {
		out[i] = min(500, (pl.rig.levels.at(pl.rig.pairs[i].class, 0)+1)/2)
	}
	return out
}

// solo is the best level of a pair alone, up to the target, or floor-1 when below its floor.
func (pl *planner) solo(v *view, p, floor int) int {
	row := v.rows[p]
	best := min(pl.rig.target, v.bestLevel(row))
	if row.form < 0 {
		return best
	}
	return int(v.largest(criterion{
		have: int64(floor - 1), best: int64(best),
		with: func(t int64) ([]bound, limits) {
			x, _ := v.atLevel(row, int(t))
			return []bound{x}, noLimits
		},
		value: func(at []int) int64 { return int64(min(pl.rig.target, v.levelOf(row, at))) },
	}))
}

// together is the criterion of the largest L with every kept pair at max(floor, min(L, solo)).
func (pl *planner) together(v *view, floor []int, solo map[int]int) criterion {
	value := func(at []int) int64 {
		least := pl.rig.target
		for _, p := range pl.hard {
			if level := v.levelOf(v.rows[p], at); level < solo[p] {
				least = min(least, level)
			}
		}
		return int64(least)
	}
	return criterion{
		have: value(v.inc), best: int64(pl.rig.target), value: value,
		with: func(t int64) ([]bound, limits) {
			bounds, _ := pl.bounds(v, pl.hard, func(p int) int { return max(floor[p], min(int(t), solo[p])) })
			return bounds, noLimits
		},
	}
}

// conflict is an irreducible subset of pairs that cannot reach their levels together, the one that
// dropping pairs in list order leaves: the first it keeps is the last one whose tail of the list is
// still in conflict, which halving finds without dropping one by one.
func (pl *planner) conflict(v *view, pairs []int, want func(p int) int) []int {
	var kept []int
	rest := pairs
	for len(rest) > 0 && pl.feasible(v, kept, want) == reached {
		low, high := 0, len(rest) // kept with rest[low:] is in conflict, with rest[high:] it is not
		for high-low > 1 {
			mid := low + (high-low)/2
			if pl.feasible(v, append(slices.Clone(kept), rest[mid:]...), want) == reached {
				high = mid
			} else {
				low = mid
			}
		}
		kept, rest = append(kept, rest[low]), rest[low+1:]
	}
	return kept
}

// mostClashing is the member of a conflict that cannot be had together with most of the other kept
// pairs, one at a time; the last listed of equals.
func (pl *planner) mostClashing(v *view, conflict []int, want func(p int) int, clashes map[int]map[int]bool) int {
	drop, most := conflict[len(conflict)-1], -1
	for _, p := range conflict {
		if clashes[p] == nil {
			clashes[p] = map[int]bool{}
			for _, q := range pl.hard {
				clashes[p][q] = q != p && pl.feasible(v, []int{p, q}, want) != reached
			}
		}
		n := 0
		for _, q := range pl.hard {
			if clashes[p][q] {
				n++
			}
		}
		if n >= most {
			drop, most = p, n
		}
	}
	return drop
}

// keepWhatHolds is the way out when the time is over: pairs below their floor at the incumbent go.
func (pl *planner) keepWhatHolds(v *view, want func(p int) int) {
	pl.hard = slices.DeleteFunc(pl.hard, func(p int) bool { return v.levelOf(v.rows[p], v.inc) < want(p) })
}

// markGivenUp gives the role to the hard pairs that are no longer kept.
func (pl *planner) markGivenUp() {
	for i := range pl.rig.pairs {
		if pl.rig.pairs[i].role == RoleHard && !slices.Contains(pl.hard, i) {
			pl.rig.pairs[i].role = RoleGivenUp
		}
	}
}

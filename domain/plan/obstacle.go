package plan

import (
	"fmt"
	"math/big"
	"slices"
)

// extraMS is how far a control's grid is continued to see what it lacks.
const extraMS = 1000

// obstacles is an irreducible conflict at the target and every single thing that, relaxed alone,
// brings all hard pairs there. Only controls on the paths of the conflict and members of the
// conflict can: relaxing anything else leaves the conflict standing.
func (pl *planner) obstacles() (conflict []int, out []Bottleneck) {
	var all []int
	for i := range pl.rig.pairs {
		if role := pl.rig.pairs[i].role; role == RoleHard || role == RoleGivenUp {
			all = append(all, i)
		}
	}
	if pl.work.expired() {
		return nil, nil
	}
	v := pl.joint(-1)
	conflict = pl.conflict(v, all, pl.atTarget)
	for c := range pl.rig.controls {
		touches := slices.ContainsFunc(conflict, func(p int) bool { return slices.Contains(pl.pairsOf[c], p) })
		if !touches || pl.rig.controls[c].fixed {
			continue
		}
		if b, ok := pl.lacksRange(c, all); ok {
			out = append(out, b)
		}
	}
	for _, p := range conflict {
		if b, ok := pl.lacksWindow(v, p, all); ok {
			out = append(out, b)
		}
	}
	for i := range pl.rig.feeds {
		if b, ok := pl.lacksFeed(i, all); ok {
			out = append(out, b)
		}
	}
	return conflict, out
}

func (pl *planner) atTarget(int) int { return pl.rig.target }

// lacksRange continues a control's grid above its maximum and asks for its least value.
func (pl *planner) lacksRange(c int, all []int) (Bottleneck, bool) {
	r := *pl.rig
	r.controls = slices.Clone(pl.rig.controls)
	ctl := &r.controls[c]
	had := len(ctl.grid.vals)
	step := new(big.Rat).Mul(ctl.ruler.unit, ctl.ruler.step)
	more := new(big.Rat).Quo(big.NewRat(extraMS, 1), step)
	extra := new(big.Int).Quo(more.Num(), more.Denom())
	if extra.Cmp(big.NewInt(maxPoints)) > 0 {
		extra.SetInt64(maxPoints)
	}
	ctl.grid = newGrid(ctl.ruler.delays(had + int(extra.Int64())))
	relaxed := &planner{rig: &r, work: pl.work, at: slices.Clone(pl.at), pairsOf: pl.pairsOf}
	relaxed.groups = append(groups(&r, func(x int) bool { return r.movable(x) && x != c }),
		&group{signal: ctl.signal, members: []int{c}, vars: []*variable{single(&r, c)}})
	v := relaxed.joint(-1)
	if relaxed.feasible(v, all, pl.atTarget) != reached {
		return Bottleneck{}, false
	}
	bounds, _ := relaxed.bounds(v, all, pl.atTarget)
	v.require(bounds)
	v.settle()
	v.lessen(v.form([]term{{v.of[c], 1}}))
	needs := v.inc[v.of[c]]
	b := Bottleneck{
		Kind: ControlRange, Name: ctl.name, NeedsMS: toMS(ctl.grid.vals[needs]), MoreSteps: needs - had + 1,
		MissingMS: toMS(ctl.grid.vals[needs] - ctl.grid.vals[had-1]),
	}
	b.Text = fmt.Sprintf("%s needs %s, has %s: %s ms missing.", ctl.name, ctl.sayValue(needs), ctl.sayValue(had-1), shortMS(b.MissingMS))
	return b, true
}

// lacksWindow leaves a pair out, brings it as near to the middle of its window as the others let it,
// and asks by how much the window would have to widen on both sides.
func (pl *planner) lacksWindow(v *view, p int, all []int) (Bottleneck, bool) {
	others := slices.DeleteFunc(slices.Clone(all), func(q int) bool { return q == p })
	if pl.feasible(v, others, pl.atTarget) != reached {
		return Bottleneck{}, false
	}
	row := v.rows[p]
	bounds, _ := pl.bounds(v, others, pl.atTarget)
	distance := v.distance(row, v.after(row, v.inc))
	if row.form >= 0 {
		center := v.rig.pairs[p].early - v.rig.pairs[p].late
		distance = -v.largest(criterion{
			have: -distance, best: 0,
			with: func(t int64) ([]bound, limits) {
				near := bound{row.form, ceilDiv(center+t, 2) - row.offset, floorDiv(center-t, 2) - row.offset}
				return append(slices.Clone(bounds), near), noLimits
			},
			value: func(at []int) int64 { return -v.distance(row, v.after(row, at)) },
		})
	}
	in := &pl.rig.pairs[p]
	b := Bottleneck{Kind: PairWindow, Name: in.name, WidenMS: pl.widen(in, distance)}
	b.Text = fmt.Sprintf("%s would need its limit %s ms wider on both sides.", in.name, shortMS(b.WidenMS))
	if pl.rig.levels.at(in.class, 0) < pl.rig.target {
		b.Kind, b.SpreadMS = PairSpread, in.half
		b.Text = fmt.Sprintf("%s has its own spread, %s ms either way from one power-up to the next: too wide for its limit with any setting.",
			in.name, shortMS(in.half))
	}
	return b, true
}

// widen is the least by which both sides of a pair's window must move out, in whole ticks, to reach
// the target at a distance (half ticks) from its middle; ms.
func (pl *planner) widen(p *pair, distance int64) float64 {
	enough := func(more int64) bool {
		return levelClass{law: p.law, width: p.early + p.late + 2*more}.at(distance) >= pl.rig.target
	}
	lo, hi := int64(0), int64(TicksPerMS) // the pair misses the target with lo
	for !enough(hi) {
		lo, hi = hi, 2*hi
	}
	for hi-lo > 1 {
		if mid := lo + (hi-lo)/2; enough(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return toMS(hi)
}

// lacksFeed drops the bound of a feed and asks for the least it would get.
func (pl *planner) lacksFeed(i int, all []int) (Bottleneck, bool) {
	v := pl.joint(i)
	f, _ := v.feedRow(i)
	if f < 0 || pl.feasible(v, all, pl.atTarget) != reached {
		return Bottleneck{}, false
	}
	bounds, _ := pl.bounds(v, all, pl.atTarget)
	v.require(bounds)
	v.settle()
	v.lessen(f)
	at := slices.Clone(pl.at)
	v.controls(at, v.inc)
	in := &pl.rig.feeds[i]
	gets := pl.rig.added(in, at)
	b := Bottleneck{Kind: FeedBound, Name: in.slug, NeedsMS: toMS(gets), MissingMS: toMS(gets - in.allowed)}
	b.Text = fmt.Sprintf("%s would get %s ms, %s allowed.", in.slug, shortMS(b.NeedsMS), shortMS(toMS(in.allowed)))
	return b, true
}

package plan

import (
	"slices"

	"delaybook/domain/law"
)

// report turns what the planner holds into the answer.
func (pl *planner) report() Plan {
	out := Plan{Proven: !pl.work.unproven, Vector: pl.vector(), State: pl.state()}
	for c := range pl.rig.controls {
		out.Settings = append(out.Settings, pl.setting(c))
	}
	for i := range pl.rig.pairs {
		out.Pairs = append(out.Pairs, pl.pairResult(i))
		if pl.rig.pairs[i].role == RoleGivenUp {
			out.GivenUp = append(out.GivenUp, i)
		}
	}
	for i := range pl.rig.feeds {
		f := &pl.rig.feeds[i]
		out.Feeds = append(out.Feeds, FeedResult{
			Feed: f.slug, AddedMS: toMS(pl.rig.added(f, pl.at)), MaxAddedMS: toMS(f.allowed), Held: f.held(),
		})
	}
	if pl.short {
		out.Conflict, out.Bottlenecks = pl.obstacles()
	}
	out.Advice = pl.advice(&out)
	return out
}

func (pl *planner) setting(c int) Setting {
	ctl, k := &pl.rig.controls[c], pl.at[c]
	return Setting{
		Control: ctl.name, Signal: ctl.signal, Value: ctl.value(k), MS: toMS(ctl.grid.vals[k]),
		AtEnd: !ctl.fixed && k > 0 && k == len(ctl.grid.vals)-1,
		Kept:  ctl.now == k, Changed: ctl.changed(k), Fixed: ctl.fixed, Why: pl.why(c),
	}
}

func (pl *planner) pairResult(i int) PairResult {
	p := &pl.rig.pairs[i]
	out := PairResult{Name: p.name, Role: p.role, HalfWidthMS: p.half, Known: !p.unknown}
	if p.unknown {
		return out
	}
	w := p.window()
	out.AfterMS = toMS(pl.rig.after(p, pl.at))
	out.Chance = p.law.Chance(out.AfterMS, w)
	out.Level = pl.rig.level(p, pl.at)
	out.Verdict = w.Judge(out.AfterMS, p.half)
	if p.role == RoleHard {
		out.Need = pl.need[i]
	}
	return out
}

func (p *pair) window() law.Window { return law.Window{Early: toMS(p.early), Late: toMS(p.late)} }

func (pl *planner) state() State {
	counted, unknown := false, false
	outside := slices.ContainsFunc(pl.rig.feeds, func(f feed) bool { return !f.held() })
	for i := range pl.rig.pairs {
		p := &pl.rig.pairs[i]
		counted = counted || p.counts()
		unknown = unknown || p.role == RoleUnknown
		switch after := pl.rig.after(p, pl.at); p.role {
		case RoleGivenUp:
			outside = true
		case RoleHard:
			outside = outside || after > p.early || after < -p.late
		}
	}
	switch {
	case !counted && (unknown || len(pl.rig.pairs) == 0):
		return Unknown
	case outside:
		return Infeasible
	case unknown:
		return Partial
	case pl.short:
		return Unsure
	default:
		return OK
	}
}

func (pl *planner) vector() Vector {
	v := Vector{HardLevel: pl.reached, PictureMS: toMS(pl.pictureSum())}
	feeds, sum, largest, anyHard := int64(0), int64(0), int64(0), false
	for i := range pl.rig.feeds {
		feeds += pl.rig.added(&pl.rig.feeds[i], pl.at)
	}
	for c := range pl.rig.controls {
		if pl.rig.controls[c].changed(pl.at[c]) {
			v.ControlsChanged++
		}
	}
	for i := range pl.rig.pairs {
		p := &pl.rig.pairs[i]
		if !p.counts() {
			continue
		}
		after, level := pl.rig.after(p, pl.at), min(pl.rig.level(p, pl.at), topLevel)
		sum += after
		if p.role == RoleHard {
			anyHard, largest = true, max(largest, after, -after)
			v.SmallestHard = smaller(v.SmallestHard, level)
		} else {
			v.SmallestSoft = smaller(v.SmallestSoft, level)
		}
	}
	v.FeedsAddedMS, v.SumOfAfterMS = toMS(feeds), toMS(sum)
	if anyHard {
		ms := toMS(largest)
		v.LargestAbsAfterHardMS = &ms
	}
	return v
}

// smaller is the smaller of what there is and a level.
func smaller(have *int, level int) *int {
	if have == nil || level < *have {
		return &level
	}
	return have
}

package plan

import (
	"fmt"
	"math"
	"slices"
	"strconv"
)

// why says why a control is set as it is, by moving it alone one step either way.
func (pl *planner) why(c int) Why {
	ctl, k := &pl.rig.controls[c], pl.at[c]
	value := ctl.say(k)
	switch {
	case ctl.fixed:
		return Why{WhyFixed, fmt.Sprintf("%s is not ours to move; it is counted at %s.", ctl.name, value)}
	case ctl.now == k:
		return Why{WhyKept, fmt.Sprintf("%s are in force and nothing is better.", value)}
	case pl.unused(c):
		return Why{WhyUnused, fmt.Sprintf("%s acts on no pair of this plan and stays at its minimum, %s.", ctl.name, value)}
	}
	if w, ok := pl.whyNeeded(c); ok {
		return w
	}
	if ctl.signal == Picture {
		return Why{WhyLeastPicture, fmt.Sprintf("%s is the least picture delay that serves every pair.", value)}
	}
	if w, ok := pl.whyFeed(c); ok {
		return w
	}
	return pl.whyTie(c)
}

// say writes a value with its unit and its delay.
func (c *control) say(k int) string {
	return fmt.Sprintf("%s (%s ms)", c.sayValue(k), shortMS(toMS(c.grid.vals[k])))
}

func (c *control) sayValue(k int) string {
	value := decimal(c.value(k))
	switch {
	case c.unit == "" || c.unit == "ms":
		return value + " ms"
	case value == "1":
		return value + " " + c.unit
	default:
		return value + " " + c.unit + "s"
	}
}

// shortMS writes ms with at most one decimal.
func shortMS(ms float64) string {
	return strconv.FormatFloat(math.Round(ms*10)/10, 'f', -1, 64)
}

// whyNeeded looks for a pair that one step less would take from what the plan reached for it: a hard
// one first, then the others, in list order.
func (pl *planner) whyNeeded(c int) (Why, bool) {
	if pl.at[c] == 0 {
		return Why{}, false
	}
	less := slices.Clone(pl.at)
	less[c]--
	for _, hard := range []bool{true, false} {
		for _, i := range pl.pairsOf[c] {
			p := &pl.rig.pairs[i]
			if (p.role == RoleHard) != hard {
				continue
			}
			if now, then := pl.rig.level(p, pl.at), pl.rig.level(p, less); pl.drops(c, i, now, then) {
				ctl := &pl.rig.controls[c]
				return Why{WhyNeeded, fmt.Sprintf("%s needs it: with %s its chance to be in its limit is %s instead of %s.",
					p.name, ctl.sayValue(less[c]), pl.sayChance(p, less), pl.sayChance(p, pl.at))}, true
			}
		}
	}
	return Why{}, false
}

// drops says whether a fall of a pair's level from now to then breaks what the plan reached.
func (pl *planner) drops(c, i, now, then int) bool {
	if pl.rig.pairs[i].role == RoleHard {
		return then < pl.need[i] || min(then, topLevel) < pl.worst[c]
	}
	if pl.worst[c] != noWorst {
		now, then = max(now, 0), max(then, 0)
	}
	return min(then, topLevel) < min(now, topLevel)
}

// sayChance writes a chance so that it never rounds up to certainty.
func (pl *planner) sayChance(p *pair, at []int) string {
	chance := p.law.Chance(toMS(pl.rig.after(p, at)), p.window())
	return fmt.Sprintf("%.3f", math.Floor(chance*1000)/1000)
}

func (pl *planner) whyFeed(c int) (Why, bool) {
	ctl := &pl.rig.controls[c]
	if pl.at[c]+1 == len(ctl.grid.vals) {
		return Why{}, false
	}
	more := slices.Clone(pl.at)
	more[c]++
	for i := range pl.rig.feeds {
		f := &pl.rig.feeds[i]
		if slices.Contains(f.controls, c) {
			return Why{WhyFeed, fmt.Sprintf("%s stays live: with %s it would get %s ms more than at its minimum, %s allowed.",
				f.slug, ctl.sayValue(more[c]), shortMS(toMS(pl.rig.added(f, more))), shortMS(toMS(f.allowed)))}, true
		}
	}
	return Why{}, false
}

// whyTie compares the largest |after| over the control's pairs with one step either way.
func (pl *planner) whyTie(c int) Why {
	ctl, k := &pl.rig.controls[c], pl.at[c]
	here := pl.largestAfter(c, k)
	below, above := int64(math.MaxInt64), int64(math.MaxInt64)
	if k > 0 {
		below = pl.largestAfter(c, k-1)
	}
	if k+1 < len(ctl.grid.vals) {
		above = pl.largestAfter(c, k+1)
	}
	switch {
	case len(pl.pairsOf[c]) > 0 && here < below && here < above:
		return Why{WhyNearest, fmt.Sprintf("%s leave the least offset, %s ms at most.", ctl.say(k), shortMS(toMS(here)))}
	case len(pl.pairsOf[c]) > 0 && here == below:
		return Why{WhyLaterSound, fmt.Sprintf("%s would leave as much offset; of the two the later sound is less noticed.", ctl.sayValue(k-1))}
	default:
		return Why{WhyListOrder, fmt.Sprintf("Other settings are as good; controls listed first take more, so this one takes %s.", ctl.say(k))}
	}
}

// largestAfter is the largest |after| over the hard pairs of a control (without any, over all it
// reaches), with that control at index k.
func (pl *planner) largestAfter(c, k int) int64 {
	at := slices.Clone(pl.at)
	at[c] = k
	var largest [2]int64
	anyHard := false
	for _, i := range pl.pairsOf[c] {
		p := &pl.rig.pairs[i]
		after := pl.rig.after(p, at)
		largest[0] = max(largest[0], after, -after)
		if p.role == RoleHard {
			anyHard = true
			largest[1] = max(largest[1], after, -after)
		}
	}
	if anyHard {
		return largest[1]
	}
	return largest[0]
}

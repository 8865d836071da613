package plan

import (
	"fmt"
	"math"
	"strings"

	"delaybook/domain/law"
)

// advice is what to tell the crew, gravest first.
func (pl *planner) advice(out *Plan) []Advice {
	var list []Advice
	add := func(code AdviceCode, format string, args ...any) {
		list = append(list, Advice{code, fmt.Sprintf(format, args...)})
	}
	for _, p := range out.GivenUp {
		r := out.Pairs[p]
		add(AdviceGivenUp, "%s was given up so that the others can be served: %s, chance in its limit %.3f.",
			r.Name, heard(r.AfterMS), math.Floor(r.Chance*1000)/1000)
	}
	for _, f := range out.Feeds {
		if !f.Held {
			add(AdviceFeedNotHeld, "%s gets %s ms from controls that are not ours to move, %s allowed.",
				f.Feed, shortMS(f.AddedMS), shortMS(f.MaxAddedMS))
		}
	}
	for _, b := range out.Bottlenecks {
		add(bottleneckAdvice[b.Kind], "%s", b.Text)
	}
	if len(out.Bottlenecks) == 0 && len(out.Conflict) > 0 {
		add(AdviceConflict, "No single change is enough: %s cannot all be served together.", pl.names(out.Conflict))
	}
	pl.unknownAdvice(add)
	for _, r := range out.Pairs {
		if r.Role == RoleHard && r.Verdict == law.Undecided {
			add(AdviceUndecided, "%s leaves %s and the next power-up may differ by %s ms: part of that is outside its limit.",
				r.Name, heard(r.AfterMS), shortMS(r.HalfWidthMS))
		}
	}
	if out.State == Unsure {
		add(AdviceMeasureAgain, "These settings are the best to dial in; more measurements would tell whether they do.")
	}
	for c := range pl.rig.controls {
		if s := out.Settings[c]; s.AtEnd && len(pl.pairsOf[c]) > 0 {
			add(AdviceAtEnd, "%s is at the end of its range.", s.Control)
		}
	}
	if !out.Proven {
		add(AdviceNotProven, "The time for this plan ended first: the settings hold what is shown, a better one may exist.")
	}
	return list
}

var bottleneckAdvice = map[BottleneckKind]AdviceCode{
	ControlRange: AdviceControlRange, PairWindow: AdvicePairWindow, PairSpread: AdvicePairSpread, FeedBound: AdviceFeedBound,
}

func (pl *planner) unknownAdvice(add func(code AdviceCode, format string, args ...any)) {
	var unknown []int
	for i := range pl.rig.pairs {
		if pl.rig.pairs[i].role == RoleUnknown {
			unknown = append(unknown, i)
		}
	}
	if len(unknown) > 0 {
		add(AdviceUnknownPair, "No offset is known for %s: left out of the plan.", pl.names(unknown))
	}
	for c := range pl.rig.controls {
		if ctl := &pl.rig.controls[c]; ctl.fixed && !ctl.recorded {
			add(AdviceFixedNoValue, "%s is not ours to move and nobody recorded its value: pairs through it are left out.", ctl.name)
		}
	}
	if len(pl.rig.pairs) == 0 {
		add(AdviceNothingToPlan, "The rig has no pair of a picture and a sound chain to plan for.")
	}
}

// names lists pairs by name.
func (pl *planner) names(pairs []int) string {
	out := make([]string, len(pairs))
	for i, p := range pairs {
		out[i] = pl.rig.pairs[p].name
	}
	return strings.Join(out, ", ")
}

// heard writes an offset as people say it.
func heard(ms float64) string {
	switch rounded := math.Round(ms*10) / 10; {
	case rounded > 0:
		return "sound early " + shortMS(rounded) + " ms"
	case rounded < 0:
		return "sound late " + shortMS(-rounded) + " ms"
	default:
		return "sound in sync"
	}
}

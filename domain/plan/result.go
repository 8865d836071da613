package plan

import (
	"math/big"

	"delaybook/domain/law"
)

// A State sums a plan up.
type State string

// The states, gravest last but for Unknown.
const (
	OK         State = "ok"         // every hard pair reaches the target chance
	Unsure     State = "unsure"     // below the target, but every hard pair ends inside its limit: dial it, and measure more
	Partial    State = "partial"    // some pairs have no offset yet
	Infeasible State = "infeasible" // a hard pair was given up or ends outside its limit, or a feed cannot be held
	Unknown    State = "unknown"    // no pair has an offset yet
)

// A Role is what a pair was in the plan.
type Role string

// The roles. Only hard pairs can be given up; RoleUnknown pairs have no location or a control whose
// fixed value nobody recorded.
const (
	RoleHard    Role = "hard"     // had to reach its limit
	RoleSoft    Role = "soft"     // came as near as could be, after the hard pairs
	RoleIgnored Role = "ignored"  // was not considered
	RoleGivenUp Role = "given-up" // a hard pair that cannot be met with the others
	RoleUnknown Role = "unknown"  // has no offset, or a control whose fixed value nobody recorded
)

// A Plan is the answer to a Problem. Settings, Pairs and Feeds are in the order of the problem.
type Plan struct {
	State State
	// Proven is false when the budget ended before the optimum was proven; the settings then are
	// the best found and satisfy all that was reached.
	Proven   bool
	Settings []Setting
	Pairs    []PairResult
	Feeds    []FeedResult
	Vector   Vector
	// GivenUp are the indexes into Pairs of the hard pairs that were given up.
	GivenUp []int
	// Conflict is an irreducible set of hard pairs (indexes into Pairs) that cannot all reach the
	// target: leave any one out and the others can. Empty when the target is reached.
	Conflict []int
	// Bottlenecks are what stands in the way, each enough alone; empty when the target is reached.
	Bottlenecks []Bottleneck
	// Advice is what to tell the crew, gravest first.
	Advice []Advice
}

// A Setting is what to dial in on one control.
type Setting struct {
	Control string
	Signal  Signal
	// Value is in the control's units, exact.
	Value *big.Rat
	// MS is the delay it gives, with what engaging adds, in ms.
	MS float64
	// AtEnd: at the largest value the control has, and it has more than one.
	AtEnd bool
	// Kept: equal to the value in force. Changed: a value in force is recorded and differs.
	Kept, Changed bool
	// Fixed: not ours to move.
	Fixed bool
	Why   Why
}

// ValueText is the value as an exact decimal (or a fraction where no decimal is exact).
func (s Setting) ValueText() string { return decimal(s.Value) }

// A Why says in one sentence why a setting is what it is.
type Why struct {
	Code WhyCode
	Text string
}

// A WhyCode is the kind of a Why.
type WhyCode string

// The reasons, in the order they are tried; the first that is true is given.
const (
	WhyFixed        WhyCode = "fixed"               // not ours to set: its value stands
	WhyUnused       WhyCode = "unused"              // no pair passes it
	WhyKept         WhyCode = "kept"                // the value in force does as well
	WhyNeeded       WhyCode = "needed-by-pair"      // another value leaves a pair outside
	WhyLeastPicture WhyCode = "least-picture-delay" // the least delay of pictures
	WhyFeed         WhyCode = "spares-feed"         // adds less to what must stay live
	WhyNearest      WhyCode = "nearest-to-zero"     // brings pairs nearest to zero
	WhyLaterSound   WhyCode = "later-sound"         // late sound disturbs less than early sound
	WhyListOrder    WhyCode = "list-order"          // equal to another value; the first in the order of the controls
)

// A PairResult is a pair with the plan dialled in. When Known is false only Name, Role and
// HalfWidthMS mean anything.
type PairResult struct {
	Name  string
	Role  Role
	Known bool
	// AfterMS is the offset that remains, ms, positive when the sound is early.
	AfterMS float64
	// HalfWidthMS is that of next95, ms.
	HalfWidthMS float64
	// Chance is that of the next power-up to be in the limit.
	Chance float64
	// Level is the chance in thousandths, rounded down; below 1 it is 0 inside the limit and minus
	// the whole ms (rounded up) outside.
	Level   int
	Verdict law.Verdict
	// Need is the level the plan had to keep it at; 0 when it is not hard.
	Need int
}

// A FeedResult is what a live feed gets.
type FeedResult struct {
	Feed string
	// AddedMS is over what its controls add at their minimum, ms; MaxAddedMS what is allowed.
	AddedMS, MaxAddedMS float64
	// Held is false when the fixed controls alone exceed what is allowed.
	Held bool
}

// A Vector is what the plan reached, in the order it was sought. Nil where nothing counts there.
type Vector struct {
	// HardLevel is the level that all kept hard pairs reach together, as far as each can at all.
	HardLevel int
	// PictureMS is the sum of picture delay over the (picture chain, destination) paths, ms.
	PictureMS float64
	// SmallestHard is the smallest level of the kept hard pairs, SmallestSoft that of the soft ones
	// and those given up; levels above 999 count as 999.
	SmallestHard, SmallestSoft *int
	// FeedsAddedMS is the sum over the feeds, ms.
	FeedsAddedMS float64
	// ControlsChanged counts recorded settings that change.
	ControlsChanged int
	// LargestAbsAfterHardMS is over the kept hard pairs, ms.
	LargestAbsAfterHardMS *float64
	// SumOfAfterMS is over all pairs that count (not ignored, known), ms.
	SumOfAfterMS float64
}

// A BottleneckKind says what stands in the way.
type BottleneckKind string

// The kinds.
const (
	ControlRange BottleneckKind = "control-range" // a control runs out
	PairWindow   BottleneckKind = "pair-window"   // a limit is too narrow for the steps of the controls
	PairSpread   BottleneckKind = "pair-spread"   // a pair scatters more than its limit allows
	FeedBound    BottleneckKind = "feed-bound"    // a feed may get no more
)

// A Bottleneck is one thing that, relaxed alone, brings every hard pair to the target.
type Bottleneck struct {
	Kind BottleneckKind
	// Name is that of the control, pair or feed.
	Name string
	// NeedsMS is the least delay of the control that would do, or the least the feed would get.
	NeedsMS float64
	// MissingMS is NeedsMS less what there is (the control's largest delay, what the feed may get).
	MissingMS float64
	// MoreSteps is how many steps beyond its maximum the control would need.
	MoreSteps int
	// WidenMS is by how much each side of the pair's limit would have to widen.
	WidenMS float64
	// SpreadMS is the half-width of the pair's next95, for PairSpread.
	SpreadMS float64
	// Text is the whole in one sentence.
	Text string
}

// An Advice is one thing to tell the crew.
type Advice struct {
	Code AdviceCode
	Text string
}

// An AdviceCode is the kind of an Advice.
type AdviceCode string

// The codes.
const (
	AdviceNotProven     AdviceCode = "plan-not-proven"     // the time ran out: the settings are the best found, not proven best
	AdviceGivenUp       AdviceCode = "pair-given-up"       // a hard pair is outside its limit
	AdviceFeedNotHeld   AdviceCode = "feed-not-held"       // a feed gets more delay than it may
	AdviceControlRange  AdviceCode = "control-range"       // a control runs out, by how much
	AdvicePairWindow    AdviceCode = "pair-window"         // no step of the controls lands in the limit
	AdvicePairSpread    AdviceCode = "pair-spread"         // a pair scatters more than its limit allows
	AdviceFeedBound     AdviceCode = "feed-bound"          // a feed may get no more
	AdviceConflict      AdviceCode = "pairs-conflict"      // hard pairs cannot be met together
	AdviceUnknownPair   AdviceCode = "pair-unknown"        // a pair has no offset: measure it
	AdviceFixedNoValue  AdviceCode = "fixed-value-missing" // a control that is not ours has no recorded value
	AdviceUndecided     AdviceCode = "pair-undecided"      // a pair may be inside or outside: measure more
	AdviceMeasureAgain  AdviceCode = "measure-again"       // one more power-up would tell
	AdviceAtEnd         AdviceCode = "control-at-end"      // a control stands at the end of its range
	AdviceNothingToPlan AdviceCode = "nothing-to-plan"     // no pair to bring into step
)

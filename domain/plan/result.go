package plan

import (
	"math/big"

	"delaybook/domain/law"
)

// A State sums a plan up.
type State string

// The states, gravest last but for Unknown: every hard pair at the target; not at the target but
// every hard pair's after inside its limit; some pairs without a location; a hard pair given up, its
// after outside the limit, or a feed that cannot be held; no pair with a location.
const (
	OK         State = "ok"
	Unsure     State = "unsure"
	Partial    State = "partial"
	Infeasible State = "infeasible"
	Unknown    State = "unknown"
)

// A Role is what a pair was in the plan.
type Role string

// The roles. Only hard pairs can be given up; RoleUnknown pairs have no location or a control whose
// fixed value nobody recorded.
const (
	RoleHard    Role = "hard"
	RoleSoft    Role = "soft"
	RoleIgnored Role = "ignored"
	RoleGivenUp Role = "given-up"
	RoleUnknown Role = "unknown"
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
	WhyFixed        WhyCode = "fixed"
	WhyUnused       WhyCode = "unused"
	WhyKept         WhyCode = "kept"
	WhyNeeded       WhyCode = "needed-by-pair"
	WhyLeastPicture WhyCode = "least-picture-delay"
	WhyFeed         WhyCode = "spares-feed"
	WhyNearest      WhyCode = "nearest-to-zero"
	WhyLaterSound   WhyCode = "later-sound"
	WhyListOrder    WhyCode = "list-order"
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

// The kinds. A control that runs out; a limit that is too narrow for a pair; a pair whose own
// spread is wider than its limit; a feed that may get no more.
const (
	ControlRange BottleneckKind = "control-range"
	PairWindow   BottleneckKind = "pair-window"
	PairSpread   BottleneckKind = "pair-spread"
	FeedBound    BottleneckKind = "feed-bound"
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
	AdviceNotProven     AdviceCode = "plan-not-proven"
	AdviceGivenUp       AdviceCode = "pair-given-up"
	AdviceFeedNotHeld   AdviceCode = "feed-not-held"
	AdviceControlRange  AdviceCode = "control-range"
	AdvicePairWindow    AdviceCode = "pair-window"
	AdvicePairSpread    AdviceCode = "pair-spread"
	AdviceFeedBound     AdviceCode = "feed-bound"
	AdviceConflict      AdviceCode = "pairs-conflict"
	AdviceUnknownPair   AdviceCode = "pair-unknown"
	AdviceFixedNoValue  AdviceCode = "fixed-value-missing"
	AdviceUndecided     AdviceCode = "pair-undecided"
	AdviceMeasureAgain  AdviceCode = "measure-again"
	AdviceAtEnd         AdviceCode = "control-at-end"
	AdviceNothingToPlan AdviceCode = "nothing-to-plan"
)

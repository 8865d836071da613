package plan

import (
	"math/big"

	"delaybook/domain/law"
)

// A Signal is what a chain carries and what a control delays.
type Signal string

// The signals.
const (
	Picture Signal = "picture"
	Sound   Signal = "sound"
)

// An Importance says how much a pair counts.
type Importance string

// The importances: hard pairs must reach the target, soft ones come after them, ignored ones are
// computed and shown but never move a control.
const (
	Hard   Importance = "hard"
	Soft   Importance = "soft"
	Ignore Importance = "ignore"
)

// A Problem is one rig to plan. All durations are exact rationals in ms; a nil rational is 0 where
// the field does not say otherwise. Order is the crew's preference: it breaks ties.
type Problem struct {
	// Target is the chance every hard pair should have to be in its limit: a whole number of
	// thousandths from 0.5 to 0.999; nil is DefaultTarget.
	Target       *big.Rat
	Controls     []Control
	Chains       []Chain
	Destinations []Destination
	Feeds        []Feed
	Pairs        []Pair
}

// DefaultTarget is 0.975: a pair that reaches it has its next95 inside the limit (the two tails
// outside hold at most 2.5 % together), so that a plan that is ok never shows an undecided pair.
func DefaultTarget() *big.Rat { return big.NewRat(975, 1000) }

// A Control delays a signal by UnitMS * (Min + k*Step) for whole k up to Max, plus EngagedMS when
// its value is not 0.
type Control struct {
	// Name is the rig-level identity, unique in the problem.
	Name   string
	Signal Signal
	// Unit is the word behind a value in sentences: frame, ms or sample. It does not calculate.
	Unit string
	// UnitMS is the length of one unit, ms: 1001/30 for a frame at 29.97.
	UnitMS *big.Rat
	// Step, Min and Max are in units. Nil Step is 1; Max is required.
	Step, Min, Max *big.Rat
	// EngagedMS is what merely engaging it adds, ms, >= 0.
	EngagedMS *big.Rat
	// Fixed controls (not ours) are counted at Now and never moved.
	Fixed bool
	// Now is the value in force, in units; nil when none is recorded. A value off the grid is
	// allowed (it was dialled in somehow) and counts as changed whatever is set.
	Now *big.Rat
}

// A Chain is a path of one signal from a source, with the controls on it by name.
type Chain struct {
	Slug     string
	Signal   Signal
	Controls []string
}

// A Destination is where pairs are compared: its limit, and the controls in its tails.
type Destination struct {
	Slug string
	// Limit is the slug of the limit, for sentences.
	Limit string
	// EarlyMS and LateMS are the bounds, unsigned ms, inclusive.
	EarlyMS, LateMS *big.Rat
	// PictureControls and SoundControls delay every chain at this destination.
	PictureControls, SoundControls []string
}

// A Feed is a sound chain that must stay live: its controls together may add at most MaxAddedMS
// over what they add at their minimum.
type Feed struct {
	Slug       string
	Chain      string
	MaxAddedMS *big.Rat
}

// A Pair is a picture chain and a sound chain compared at a destination.
type Pair struct {
	Picture, Sound, Destination string
	// Importance is Hard when empty.
	Importance Importance
	// LocationMS is the offset with every control at zero delay, ms, positive when the sound is
	// early; nil when it is not known: the pair is then left out and the state is partial or unknown.
	LocationMS *big.Rat
	// Law is that of the next power-up around LocationMS.
	Law law.Law
}

// Name is picture/sound/destination.
func (p Pair) Name() string { return p.Picture + "/" + p.Sound + "/" + p.Destination }

// A Budget bounds the work of one plan.
type Budget struct {
	// Nodes bounds the search nodes of one decision; 0 is DefaultNodes.
	Nodes int
	// Expired is asked now and then whether the time of the plan is over; nil is never. The caller
	// owns the clock: the usual plan gets two seconds.
	Expired func() bool
}

// DefaultNodes is the number of search nodes one decision may take.
const DefaultNodes = 300_000

// RatMS is a float64 of ms as the exact rational it stands for, or nil when it is NaN or infinite
// (which the planner takes for not known).
func RatMS(ms float64) *big.Rat { return new(big.Rat).SetFloat64(ms) }

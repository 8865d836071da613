package domain

import (
	"time"

	"delaybook/domain/timebase"

	"github.com/shopspring/decimal"
)

// Visibility says who besides its own crew may see a rig.
type Visibility string

// The visibilities.
const (
	VisibleToCrew    Visibility = "crew"    // the rig's crew only
	VisibleToListed  Visibility = "listed"  // the rig's crew and those listed
	VisibleToCompany Visibility = "company" // every crew
)

// A Rig is the equipment of one job as it is connected.
type Rig struct {
	ID         RigID
	Crew       CrewID
	Slug       Slug // unique in the crew among rigs not deleted
	Name       string
	Visibility Visibility
	VisibleTo  []CrewID // with VisibleToListed
	JobDate    string   // YYYY-MM-DD, or empty
	Notes      string
	Revisions  []Revision // by number, from 1; never empty
	Deleted    bool
	Version    Version // the book version that last changed the rig
}

// A Revision is the description of a rig from one moment on. Revisions are
// numbered from 1 and never change.
type Revision struct {
	Number  int
	At      time.Time
	By      KeyID
	Version Version
	Layout  Layout
}

// A Layout is what a revision describes. References within it are by slug.
type Layout struct {
	FrameRate    timebase.Rate
	Chains       []Chain
	Destinations []Destination // never empty
	Feeds        []Feed
	Pairs        []Pair // those listed; when empty, all of one subject and destination
}

// LiveChain is the slug of the chain without stages: the event itself.
const LiveChain Slug = "live"

// DefaultSubject is what a chain shows when nothing else is said.
const DefaultSubject = "stage"

// DefaultDestination is where chains are compared when nothing else is said.
const DefaultDestination Slug = "programme"

// A Chain is the ordered stages that one signal passes from its source.
type Chain struct {
	Slug    Slug
	Signal  Signal
	Subject string
	AirM    float64 // metres of air between the sound's source and the microphone
	Stages  []Stage // of a chain other than live, at least one
}

// Timing says how a stage is clocked.
type Timing string

// The timings.
const (
	House         Timing = "house"   // locked to the house reference
	Free          Timing = "free"    // own clock, re-timed to the frames of the next stage
	UnknownTiming Timing = "unknown" // not known: the default
)

// Valid reports whether t is a timing.
func (t Timing) Valid() bool { return t == House || t == Free || t == UnknownTiming }

// A Stage is a device in a mode.
type Stage struct {
	Device   DeviceID
	Mode     ModeID
	Unit     UnitID // zero: one unnamed unit per rig, device and signal
	Timing   Timing
	Controls []ControlUse
}

// Equipment is what makes two stages the same for a measurement: it does not
// matter which controls are listed.
type Equipment struct {
	Device DeviceID
	Mode   ModeID
	Unit   UnitID
	Timing Timing
}

// Equipment returns the stage without its controls.
func (s Stage) Equipment() Equipment { return Equipment{s.Device, s.Mode, s.Unit, s.Timing} }

// A ControlUse places a control of the stage's device in a chain.
type ControlUse struct {
	Control ControlID
	Name    Slug  // identity within the rig: the same name in several chains is one control
	Ours    *bool // overrides the control's own
}

// A Destination is where picture and sound are compared.
type Destination struct {
	Slug    Slug
	Limit   Slug    // of a published or company limit
	AirM    float64 // metres of air between loudspeaker and listener
	Picture []Stage // tail added to every picture chain
	Sound   []Stage // tail added to every sound chain
}

// A Feed is a sound chain that must stay live.
type Feed struct {
	Slug       Slug
	Chain      Slug
	MaxAddedMS float64 // the most delay that may be added to it
}

// Importance says what the plan may do to a pair.
type Importance string

// The importances.
const (
	Hard   Importance = "hard"   // must be inside its limit
	Soft   Importance = "soft"   // as good as can be, after the hard pairs
	Ignore Importance = "ignore" // not considered
)

// Valid reports whether i is an importance.
func (i Importance) Valid() bool { return i == Hard || i == Soft || i == Ignore }

// A Pair is a picture chain and a sound chain that are seen and heard together.
type Pair struct {
	Picture     Slug
	Sound       Slug
	Destination Slug // empty: every destination
	Importance  Importance
}

// A Setting is the value of one control of a rig, by its name in the rig.
type Setting struct {
	Control Slug
	Value   decimal.Decimal // on the control's grid, in its unit
}

// SettingsInForce is what is dialled in on a rig from an instant on.
type SettingsInForce struct {
	ID       SettingsID
	Rig      RigID
	Revision int // whose controls the names are
	At       time.Time
	Values   []Setting // every control known at At, by name
	Plan     Version   // the book version of the plan that was applied; 0: none
	By       KeyID
	Version  Version
}

// Current returns the revision in force now: the last one.
func (r *Rig) Current() *Revision { return &r.Revisions[len(r.Revisions)-1] }

// Revision returns the revision with number n.
func (r *Rig) Revision(n int) (*Revision, bool) {
	if n < 1 || n > len(r.Revisions) {
		return nil, false
	}
	return &r.Revisions[n-1], true
}

// RevisionAt returns the revision in force at t. What was measured before the
// rig was written down belongs to its first revision.
func (r *Rig) RevisionAt(t time.Time) *Revision {
	for i := len(r.Revisions) - 1; i > 0; i-- {
		if !r.Revisions[i].At.After(t) {
			return &r.Revisions[i]
		}
	}
	return &r.Revisions[0]
}

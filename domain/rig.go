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
	ID         RigID      `json:"id,omitzero"`
	Crew       CrewID     `json:"crew,omitzero"`
	Slug       Slug       `json:"slug,omitzero"` // unique in the crew among rigs not deleted
	Name       string     `json:"name,omitzero"`
	Visibility Visibility `json:"visibility,omitzero"`
	VisibleTo  []CrewID   `json:"visible_to,omitzero"` // with VisibleToListed
	JobDate    string     `json:"job_date,omitzero"`   // YYYY-MM-DD, or empty
	Notes      string     `json:"notes,omitzero"`
	Revisions  []Revision `json:"revisions,omitzero"` // by number, from 1; never empty
	Deleted    bool       `json:"deleted,omitzero"`
	Version    Version    `json:"version,omitzero"` // the book version that last changed the rig
}

// A Revision is the description of a rig from one moment on. Revisions are
// numbered from 1 and never change.
type Revision struct {
	Number  int       `json:"number,omitzero"`
	At      time.Time `json:"at,omitzero"`
	By      KeyID     `json:"by,omitzero"`
	Version Version   `json:"version,omitzero"`
	Layout  Layout    `json:"layout,omitzero"`
}

// A Layout is what a revision describes. References within it are by slug.
type Layout struct {
	FrameRate    timebase.Rate `json:"frame_rate,omitzero"`
	Chains       []Chain       `json:"chains,omitzero"`
	Destinations []Destination `json:"destinations,omitzero"` // never empty
	Feeds        []Feed        `json:"feeds,omitzero"`
	Pairs        []Pair        `json:"pairs,omitzero"` // those listed; when empty, all of one subject and destination
}

// LiveChain is the slug of the chain without stages: the event itself.
const LiveChain Slug = "live"

// DefaultSubject is what a chain shows when nothing else is said.
const DefaultSubject = "stage"

// DefaultDestination is where chains are compared when nothing else is said.
const DefaultDestination Slug = "programme"

// A Chain is the ordered stages that one signal passes from its source.
type Chain struct {
	Slug    Slug    `json:"slug,omitzero"`
	Signal  Signal  `json:"signal,omitzero"`
	Subject string  `json:"subject,omitzero"`
	AirM    float64 `json:"air_m,omitzero"`  // metres of air between the sound's source and the microphone
	Stages  []Stage `json:"stages,omitzero"` // of a chain other than live, at least one
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
	Device   DeviceID     `json:"device,omitzero"`
	Mode     ModeID       `json:"mode,omitzero"`
	Unit     UnitID       `json:"unit,omitzero"` // zero: one unnamed unit per rig, device and signal
	Timing   Timing       `json:"timing,omitzero"`
	Controls []ControlUse `json:"controls,omitzero"`
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
	Control ControlID `json:"control,omitzero"`
	Name    Slug      `json:"name,omitzero"` // identity within the rig: the same name in several chains is one control
	Ours    *bool     `json:"ours,omitzero"` // overrides the control's own
}

// A Destination is where picture and sound are compared.
type Destination struct {
	Slug    Slug    `json:"slug,omitzero"`
	Limit   Slug    `json:"limit,omitzero"`   // of a published or company limit
	AirM    float64 `json:"air_m,omitzero"`   // metres of air between loudspeaker and listener
	Picture []Stage `json:"picture,omitzero"` // tail added to every picture chain
	Sound   []Stage `json:"sound,omitzero"`   // tail added to every sound chain
	Seats   []Seat  `json:"seats,omitzero"`   // other places to listen at
}

// A Seat is a place at a destination that is nearer or further than its own:
// the limit is judged at the destination, and what others hear is shown beside it.
type Seat struct {
	Slug Slug    `json:"slug,omitzero"`  // near, middle, far
	AirM float64 `json:"air_m,omitzero"` // metres of air between loudspeaker and seat
}

// A Feed is a sound chain that must stay live.
type Feed struct {
	Slug       Slug    `json:"slug,omitzero"`
	Chain      Slug    `json:"chain,omitzero"`
	MaxAddedMS float64 `json:"max_added_ms,omitzero"` // the most delay that may be added to it
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
	Picture     Slug       `json:"picture,omitzero"`
	Sound       Slug       `json:"sound,omitzero"`
	Destination Slug       `json:"destination,omitzero"` // empty: every destination
	Importance  Importance `json:"importance,omitzero"`
}

// A Setting is the value of one control of a rig, by its name in the rig.
type Setting struct {
	Control Slug            `json:"control,omitzero"`
	Value   decimal.Decimal `json:"value,omitzero"` // on the control's grid, in its unit
}

// SettingsInForce is what is dialled in on a rig from an instant on.
type SettingsInForce struct {
	ID       SettingsID `json:"id,omitzero"`
	Rig      RigID      `json:"rig,omitzero"`
	Revision int        `json:"revision,omitzero"` // whose controls the names are
	At       time.Time  `json:"at,omitzero"`
	Values   []Setting  `json:"values,omitzero"` // every control known at At, by name
	Plan     Version    `json:"plan,omitzero"`   // the book version of the plan that was applied; 0: none
	By       KeyID      `json:"by,omitzero"`
	Version  Version    `json:"version,omitzero"`
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

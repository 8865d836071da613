package domain

import (
	"time"

	"delaybook/domain/timebase"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// A Method is how a measurement was read.
type Method string

// The methods.
const (
	ByEye  Method = "eye"    // frames counted in an editor, with the card
	Clip   Method = "clip"   // an analysed recording of the card
	Tracks Method = "tracks" // two sound tracks compared
	Clap   Method = "clap"   // a hand clap or slate: no card
)

// Valid reports whether m is a method.
func (m Method) Valid() bool { return m == ByEye || m == Clip || m == Tracks || m == Clap }

// UsesCard reports whether the method reads the flash-and-beep card.
func (m Method) UsesCard() bool { return m == ByEye || m == Clip }

// An EyeRule says how frames were counted by eye.
type EyeRule string

// The eye rules.
const (
	OneSide    EyeRule = "one-side"   // the sound was placed exactly, the picture to a frame
	BothSides  EyeRule = "both-sides" // both were placed to a frame
	UnknownEye EyeRule = "unknown"    // not said: the careful default
)

// Valid reports whether e is an eye rule.
func (e EyeRule) Valid() bool { return e == OneSide || e == BothSides || e == UnknownEye }

// Heard says when the sound of a pair came.
type Heard string

// What can be heard.
const (
	Early  Heard = "early"
	InSync Heard = "in-sync"
	Late   Heard = "late"
)

// A Reading is one event inside a measurement. OffsetMS is always set: a
// reading in frames is converted exactly, and keeps what the person said.
type Reading struct {
	Frames   *decimal.Decimal `json:"frames,omitempty"`   // as counted, a multiple of 0.5, >= 0; nil if given in ms
	Heard    Heard            `json:"heard,omitzero"`     // with Frames
	OffsetMS float64          `json:"offset_ms,omitzero"` // positive: the sound is early
	UMS      *float64         `json:"u_ms,omitzero"`      // standard uncertainty, if known
	AtS      *float64         `json:"at_s,omitzero"`      // seconds from the start of the recording, if known
}

// A PowerUp is a period of a rig in which nothing was switched off,
// re-plugged or changed.
type PowerUp struct {
	ID      PowerUpID `json:"id,omitzero"`
	Rig     RigID     `json:"rig,omitzero"`
	Label   string    `json:"label,omitzero"` // as the crew named it; empty if it has no name
	Version Version   `json:"version,omitzero"`
}

// A Measurement is one comparison of two chains. Its offset is the arrival of
// First minus the arrival of Second: for a picture and a sound, positive means
// that the sound is early.
type Measurement struct {
	ID          MeasurementID `json:"id,omitzero"`
	ClientID    uuid.UUID     `json:"client_id,omitzero"`   // made by who sent it; unique for ever in the company
	Fingerprint Digest        `json:"fingerprint,omitzero"` // of what was sent, to tell a repeat from a misuse of ClientID
	Rig         RigID         `json:"rig,omitzero"`
	Revision    int           `json:"revision,omitzero"`
	First       Slug          `json:"first,omitzero"`
	FirstSig    Signal        `json:"first_sig,omitzero"` // matters for live, which is either
	Second      Slug          `json:"second,omitzero"`
	SecondSig   Signal        `json:"second_sig,omitzero"`
	ReadAt      Slug          `json:"read_at,omitzero"` // destination
	Method      Method        `json:"method,omitzero"`
	Eye         EyeRule       `json:"eye,omitzero"` // with ByEye and Clap, else empty
	FrameRate   timebase.Rate `json:"frame_rate,omitzero"`
	CardSource  Slug          `json:"card_source,omitzero"` // empty: not named, or no card
	Readings    []Reading     `json:"readings,omitzero"`
	Settings    []Setting     `json:"settings,omitzero"` // of every control that either chain passes
	PowerUp     PowerUpID     `json:"power_up,omitzero"`
	DistanceM   *float64      `json:"distance_m,omitzero"` // from the sound's source to the microphone
	AirC        *float64      `json:"air_c,omitzero"`
	EventSDMS   *float64      `json:"event_sd_ms,omitzero"` // with Clip and Tracks: spread of the events about the value
	DriftPPM    *float64      `json:"drift_ppm,omitzero"`   // with Clip and Tracks: growth of the offset, microseconds a second
	Clip        ClipID        `json:"clip,omitzero"`        // the recording that it was taken from, its evidence; zero: none
	TakenAt     time.Time     `json:"taken_at,omitzero"`
	Note        string        `json:"note,omitzero"`
	By          KeyID         `json:"by,omitzero"`
	Version     Version       `json:"version,omitzero"`
	Struck      *Strike       `json:"struck,omitzero"` // nil while it counts
}

// A Strike takes a measurement or a stated value out of the answers. It is a
// fact of its own; a later one restores.
type Strike struct {
	Reason  string    `json:"reason,omitzero"`
	At      time.Time `json:"at,omitzero"`
	By      KeyID     `json:"by,omitzero"`
	Version Version   `json:"version,omitzero"`
}

// RestoreWindow is how long the author of a measurement may strike or restore it.
const RestoreWindow = 24 * time.Hour

package domain

import (
	"delaybook/domain/timebase"

	"github.com/shopspring/decimal"
)

// A Signal is picture or sound.
type Signal string

// The signals.
const (
	Picture Signal = "picture"
	Sound   Signal = "sound"
)

// Valid reports whether s is a signal.
func (s Signal) Valid() bool { return s == Picture || s == Sound }

// A Kind is what sort of equipment a device is. The scatter between units is
// pooled by kind.
type Kind string

// Kinds lists every kind of device.
func Kinds() []Kind {
	return []Kind{
		"camera", "encoder", "decoder", "converter", "scaler", "frame store", "wireless link", "microphone",
		"audio desk", "audio network", "video switcher", "embedder", "de-embedder", "recorder", "display",
		"loudspeaker processor", "in-ear", "multiviewer", "phone", "other",
	}
}

// Valid reports whether k is one of Kinds.
func (k Kind) Valid() bool {
	for _, known := range Kinds() {
		if k == known {
			return true
		}
	}
	return false
}

// A Device is a model of equipment in the company catalogue.
type Device struct {
	ID       DeviceID  `json:"id,omitzero"`
	Slug     Slug      `json:"slug,omitzero"` // unique in the company among devices not retired
	Name     string    `json:"name,omitzero"`
	Kind     Kind      `json:"kind,omitzero"`
	Notes    string    `json:"notes,omitzero"`
	Modes    []Mode    `json:"modes,omitzero"`
	Controls []Control `json:"controls,omitzero"`
	Units    []Unit    `json:"units,omitzero"`
	Retired  bool      `json:"retired,omitzero"`
	Version  Version   `json:"version,omitzero"` // the book version that last changed the device or a part of it
}

// A Mode is one way in which a device is set.
type Mode struct {
	ID         ModeID        `json:"id,omitzero"`
	Slug       Slug          `json:"slug,omitzero"`   // unique in the device
	Format     string        `json:"format,omitzero"` // raster, scan and rate as the trade writes them: "1080p29.97"; may be empty
	Scan       timebase.Scan `json:"scan,omitzero"`
	FrameRate  timebase.Rate `json:"frame_rate,omitzero"` // zero: the mode has no frames (sound equipment)
	Firmware   string        `json:"firmware,omitzero"`
	Processing string        `json:"processing,omitzero"`
	Port       string        `json:"port,omitzero"`
	Shutter    string        `json:"shutter,omitzero"` // shutter time as written on the device; latency refers to mid-exposure
	Direct     []Signal      `json:"direct,omitzero"`  // signals that pass with a latency of exactly 0
	Varies     bool          `json:"varies,omitzero"`  // the delay differs from connection to connection
	Retired    bool          `json:"retired,omitzero"`
}

// IsDirect reports whether s passes through the mode with no delay at all.
func (m *Mode) IsDirect(s Signal) bool {
	for _, d := range m.Direct {
		if d == s {
			return true
		}
	}
	return false
}

// A ControlUnit is what a control counts in.
type ControlUnit string

// The units of controls.
const (
	UnitFrame  ControlUnit = "frame"
	UnitMS     ControlUnit = "ms"
	UnitSample ControlUnit = "sample"
)

// A Control delays one signal of a device by Min + k*Step units, up to Max.
type Control struct {
	ID         ControlID           `json:"id,omitzero"`
	Slug       Slug                `json:"slug,omitzero"` // unique in the device
	Signal     Signal              `json:"signal,omitzero"`
	Unit       ControlUnit         `json:"unit,omitzero"`
	Rate       timebase.Rate       `json:"rate,omitzero"`        // frames per second of a frame control; zero: the rig's rate
	SampleRate timebase.SampleRate `json:"sample_rate,omitzero"` // of a sample control; zero otherwise
	Step       decimal.Decimal     `json:"step,omitzero"`
	Min        decimal.Decimal     `json:"min,omitzero"`
	Max        decimal.Decimal     `json:"max,omitzero"`
	Where      string              `json:"where,omitzero"`      // where to find it: "audio page, input 5"
	ActsOn     string              `json:"acts_on,omitzero"`    // what it delays, in words
	EngagedMS  float64             `json:"engaged_ms,omitzero"` // delay added by merely engaging it, whenever its value is not 0
	Ours       bool                `json:"ours,omitzero"`       // false: it is counted and never moved
	Retired    bool                `json:"retired,omitzero"`
}

// OnGrid reports whether v is a value that the control can have.
func (c *Control) OnGrid(v decimal.Decimal) bool {
	if v.LessThan(c.Min) || v.GreaterThan(c.Max) {
		return false
	}
	return v.Sub(c.Min).Mod(c.Step).IsZero()
}

// A Unit is one physical item of a device.
type Unit struct {
	ID      UnitID `json:"id,omitzero"`
	Tag     string `json:"tag,omitzero"` // asset tag, unique in the device
	Notes   string `json:"notes,omitzero"`
	Retired bool   `json:"retired,omitzero"`
}

// Mode returns the mode with slug s, retired or not.
func (d *Device) Mode(s Slug) (*Mode, bool) {
	for i := range d.Modes {
		if d.Modes[i].Slug == s {
			return &d.Modes[i], true
		}
	}
	return nil, false
}

// Control returns the control with slug s, retired or not.
func (d *Device) Control(s Slug) (*Control, bool) {
	for i := range d.Controls {
		if d.Controls[i].Slug == s {
			return &d.Controls[i], true
		}
	}
	return nil, false
}

// Unit returns the unit with asset tag, retired or not.
func (d *Device) Unit(tag string) (*Unit, bool) {
	for i := range d.Units {
		if d.Units[i].Tag == tag {
			return &d.Units[i], true
		}
	}
	return nil, false
}

// ModeByID returns the mode with the given identifier.
func (d *Device) ModeByID(id ModeID) (*Mode, bool) {
	for i := range d.Modes {
		if d.Modes[i].ID == id {
			return &d.Modes[i], true
		}
	}
	return nil, false
}

// ControlByID returns the control with the given identifier.
func (d *Device) ControlByID(id ControlID) (*Control, bool) {
	for i := range d.Controls {
		if d.Controls[i].ID == id {
			return &d.Controls[i], true
		}
	}
	return nil, false
}

// UnitByID returns the unit with the given identifier.
func (d *Device) UnitByID(id UnitID) (*Unit, bool) {
	for i := range d.Units {
		if d.Units[i].ID == id {
			return &d.Units[i], true
		}
	}
	return nil, false
}

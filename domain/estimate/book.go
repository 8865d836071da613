package estimate

import (
	"time"

	"delaybook/domain/timebase"
)

// A Signal is what a chain carries.
type Signal string

// The two signals.
const (
	Picture Signal = "picture"
	Sound   Signal = "sound"
)

// Live is the slug of the chain that every rig has without declaring it: the
// event itself, seen and heard directly. It has no stages, no tail and no delay.
const Live = "live"

// A Book is everything that the estimates of a company rest on. Struck-out
// measurements and stated values are left out by the caller. Slices may be in
// any order: nothing in a Solution depends on it.
type Book struct {
	Devices      []Device
	Rigs         []Rig
	Measurements []Measurement
	Stated       []Stated
	CardSources  []CardSource
	Variances    []Variance // the variances in use; a class without an entry starts at its prior

	// KeptRigs and KeptMeasurements are more of both, for a caller that solves one
	// version of a book after the other: they stay as they are at their address, and
	// a Cache remembers what it read of them as long as Devices stays the same slice.
	KeptRigs         []*Rig
	KeptMeasurements []*Measurement
}

// A Device is a model of equipment.
type Device struct {
	Slug     string // unique in the book
	Kind     string // pools the differences between units: class "unit.KIND"
	Modes    []Mode
	Controls []Control
}

// A Mode is how a device is set. A latency belongs to (device, mode, signal).
type Mode struct {
	Slug      string
	FrameRate timebase.Rate // frames per second; zero when the mode has none
	Direct    []Signal      // signals whose latency is exactly 0
	Varies    bool          // the delay differs per connection
}

// A ControlUnit is what the value of a control counts.
type ControlUnit string

// The control units.
const (
	FrameUnit  ControlUnit = "frame"  // of Control.Rate, else of the rig
	MSUnit     ControlUnit = "ms"     // milliseconds
	SampleUnit ControlUnit = "sample" // of Control.SampleRate
)

// A Control is something on a device that delays a chain. Its delay is value
// times the unit, and EngagedMS more when the value is not 0.
type Control struct {
	Slug       string // unique in the device
	Signal     Signal
	Unit       ControlUnit
	Rate       timebase.Rate       // of FrameUnit; zero: the rig's
	SampleRate timebase.SampleRate // of SampleUnit
	EngagedMS  float64
}

// A Rig is one revision of a rig.
type Rig struct {
	ID           string // unique in the book: measurements and queries name it
	Slug         string // the same for all revisions; anonymous units, power-ups and unnamed card sources belong to it. Empty: ID
	FrameRate    timebase.Rate
	Chains       []Chain
	Destinations []Destination // none: one "programme" without tails
}

// A Chain is ordered stages from a source, for one signal.
type Chain struct {
	Slug   string
	Signal Signal
	AirM   float64 // metres from the source of the sound to its microphone, when a measurement does not say
	Stages []Stage
}

// A Timing says which clock a picture stage follows.
type Timing string

// The timings. The empty Timing is UnknownTiming.
const (
	HouseTiming   Timing = "house"   // genlocked
	FreeTiming    Timing = "free"    // own clock: re-timed to the frames of the next stage
	UnknownTiming Timing = "unknown" // nobody said
)

// A Stage is a unit or a device in a mode.
type Stage struct {
	Device, Mode string
	Unit         string // asset tag; empty: one anonymous unit per (rig, device, signal)
	Timing       Timing // of a picture stage
	Controls     []StageControl
}

// A StageControl places a control of the device in a rig.
type StageControl struct {
	Control string // slug on the device
	Name    string // identity in the rig; empty: the slug
}

// A Destination is where picture and sound are compared. It adds its tails to
// every chain but Live, and its air to every sound chain but Live.
type Destination struct {
	Slug           string
	Picture, Sound []Stage
	AirM           float64 // metres
}

// A Setting is the value of a control of a rig, in the control's unit.
type Setting struct {
	Control string // name in the rig
	Value   float64
}

// A Method is how a measurement was read.
type Method string

// The methods.
const (
	Eye    Method = "eye"    // counted in frames in an editor
	Clip   Method = "clip"   // analysed recording
	Tracks Method = "tracks" // two sound tracks compared: no card
	Clap   Method = "clap"   // hand clap or slate, counted in frames: no card
)

// An EyeRule says which sides of a reading by eye were counted in whole frames.
type EyeRule string

// The eye rules. The empty EyeRule is EyeUnknown.
const (
	OneSide    EyeRule = "one-side"
	BothSides  EyeRule = "both-sides"
	EyeUnknown EyeRule = "unknown"
)

// Heard is the side on which the sound of a frame count was heard.
type Heard string

// The sides.
const (
	Early  Heard = "early"
	Late   Heard = "late"
	InSync Heard = "in-sync"
)

// A Reading is one event of a measurement: a frame count with its side, or an
// offset in ms.
type Reading struct {
	Frames   *float64 // >= 0, a multiple of 0.5; then Heard is set
	Heard    Heard
	OffsetMS *float64 // first minus second; positive: the second arrives early
	UMS      *float64 // standard uncertainty of OffsetMS, > 0; nil: not known
	AtS      *float64 // seconds into the recording; nil: not known
}

// A Measurement is one comparison of two chains, read at one destination in one
// power-up with the settings dialled in: arrival of First minus arrival of
// Second. Picture comes before sound; two sound chains or two picture chains may
// be compared; Live may be either side.
type Measurement struct {
	ID            string // unique in the book
	Rig           string // Rig.ID
	First, Second string // chain slugs or Live
	ReadAt        string // destination; empty: "programme"
	Method        Method
	Eye           EyeRule       // of Eye and Clap
	FrameRate     timebase.Rate // of the recording; zero: the rig's
	CardSource    string        // of Eye and Clip; empty: not named
	Readings      []Reading
	Settings      []Setting // every control of the pair
	PowerUp       string    // label within the rig (slug)
	DistanceM     *float64  // source of the sound to its microphone; two sounds: second minus first; nil: the chains' AirM
	AirC          *float64  // degrees Celsius; nil: 20 +- 5
	TakenAt       time.Time
	EventSDMS     float64 // spread of the events of a clip about its value; above EventSDCarried it is carried to Next
}

// A Stated value is the latency of a device's signal, or the difference of two
// signals of one device, from a data sheet or handbook.
type Stated struct {
	ID           string // for evidence; may be empty
	Device, Mode string
	Signal       Signal     // of a latency
	Difference   *[2]Signal // of a difference: first minus second; Signal is then empty
	ValueMS      float64
	UMS          float64 // standard uncertainty, > 0, or 0 with HalfWidthMS
	HalfWidthMS  float64 // half-width of a rectangular law, > 0, or 0 with UMS
	Source       string
}

// A CardSource is a device that shows the flash-and-beep card. Sources that
// measurements name without an entry here count as entries without UMS.
type CardSource struct {
	Slug    string
	ValueMS float64 // stated offset of the card itself, normally 0
	UMS     float64 // what a person says; 0: 15 ms, and 20 ms once a measurement without card shares a pair of it
}

// A Variance is a variance in use with its prior: NuPrior pseudo-observations of
// mean square PriorMS2.
type Variance struct {
	Class    string  // take.locked, take.free, take.unknown.RATE, take.varies.DEVICE/MODE, take.own.ID, read.METHOD, unit.KIND
	MS2      float64 // ms^2, > 0
	PriorMS2 float64 // s0, ms^2, > 0
	NuPrior  float64 // nu0, >= 0
	Phase    PhaseRule
}

// A PhaseRule says what the class test made of the known phase of take.free.
type PhaseRule string

// The phase rules.
const (
	PhaseKnown    PhaseRule = ""              // uniform over one frame per free stage and power-up
	PhaseRejected PhaseRule = "rejected-high" // more scatter than that: estimated instead
	PhaseAbsent   PhaseRule = "looks-locked"  // less scatter: no phase at all
)

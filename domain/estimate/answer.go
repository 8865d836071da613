package estimate

import "delaybook/domain/law"

// A Limit is a tolerance: the bounds belong to it.
type Limit struct {
	EarlyMS, LateMS float64 // sound early and sound late, both >= 0
}

// An OffsetQuery asks for the offset of two chains at a destination.
type OffsetQuery struct {
	Rig           string // Rig.ID
	First, Second string // as in Measurement; everyday: picture and sound
	Destination   string // empty: "programme"
	Settings      []Setting
	Limit         *Limit // nil: no Outcome
}

// An Estimate is a value with its law. Standard error, law and interval do not
// depend on settings.
type Estimate struct {
	ValueMS  float64    // ms
	SEMS     float64    // standard error, adjusted for the variances being estimated, ms
	DF       float64    // degrees of freedom; +Inf when no estimated variance takes part
	Interval [2]float64 // 95 %
	Law      law.Law    // of (truth - ValueMS), ms
}

// A Verdict compares the 95 % range after the settings with a limit.
type Verdict string

// The verdicts.
const (
	Inside    Verdict = "inside"
	Outside   Verdict = "outside"
	Undecided Verdict = "undecided"
)

// An Outcome is what the settings of a query leave.
type Outcome struct {
	AfterMS float64 // offset plus picture delays minus sound delays
	Chance  float64 // that the next power-up is inside the limit; 0 without one
	Verdict Verdict // by the range of the next power-up; empty without a limit
}

// A Basis says what an offset rests on.
type Basis string

// The bases.
const (
	BasisMeasured  Basis = "measured"  // this very pair was measured
	BasisPredicted Basis = "predicted" // from measurements of other pairs
	BasisMixed     Basis = "mixed"     // both, or measurements and stated values
	BasisStated    Basis = "stated"    // stated values only
	BasisAssumed   Basis = "assumed"   // another mode of a device stands in
	BasisUnknown   Basis = "unknown"   // not determined
)

// Scatter splits the standard error of an offset by cause, ms. The squares add up
// to its variance at the variances in use; the adjustment for their being
// estimated is in Estimate.SEMS only.
type Scatter struct {
	ReadingMS      float64 // readings and their disagreement
	QuantisationMS float64 // counting in frames
	PhaseMS        float64 // free-running stages
	OtherMS        float64 // rest from power-up to power-up
	UnitMS         float64 // differences between units
	CardSourceMS   float64 // the card's own offset
	StatedMS       float64 // stated values
}

// An Evidence entry is one measurement or stated value behind an offset.
type Evidence struct {
	Measurement string  // ID, or empty
	Stated      string  // ID of a stated value (its device/mode/signal when it has none), or empty
	CardSource  string  // name of a card source, or empty
	Weight      float64 // by how much the offset moves per ms of this entry
	Share       float64 // its part of the sum of all absolute weights, 0 to 1
	Doubtful    bool
}

// A Range is an interval that is no estimate.
type Range struct {
	LowMS, HighMS float64
	Device        string // whose other mode stands in
	Mode, From    string // the mode asked for, the mode measured
	Signal        Signal
}

// An Offset is the answer to an OffsetQuery. Estimate, Next, Outcome and Scatter
// are nil unless the offset is determined.
type Offset struct {
	Rig, First, Second, Destination string

	Estimate *Estimate // the mean over power-ups
	Next     *Estimate // the next power-up
	// WithDoubtful is Estimate if doubtful measurements counted in full; nil
	// where that is the same to a thousandth of a ms.
	WithDoubtful *Estimate
	Outcome      *Outcome
	Scatter      *Scatter
	Assumed      *Range // BasisAssumed only

	Basis        Basis
	Measurements int // with a weight in it
	PowerUps     int
	Class        string // variance class of the pair, as in Variance.Class
	Flags        []string
	Why          string   // one sentence
	Missing      []string // BasisUnknown: latencies that nothing determines, device/mode/signal
	Evidence     []Evidence
}

// A LatencyQuery asks for the latency of a signal of a device in a mode.
type LatencyQuery struct {
	Device, Mode string
	Signal       Signal
}

// A Term is a latency with a coefficient.
type Term struct {
	Coef         float64
	Device, Mode string
	Signal       Signal
}

// A Latency is the answer to a LatencyQuery. Estimate and Next are nil unless it
// is determined; Combination is nil unless it is known in a combination only.
type Latency struct {
	Device, Mode string
	Signal       Signal

	Direct      bool // exactly 0: the other fields are empty
	Determined  bool
	Estimate    *Estimate
	Next        *Estimate // a unit never measured, next power-up
	OnlyWith    []Term    // the sum of the latency and these is known: Combination
	Combination *Estimate
	Bounds      *[2]float64 // of a sum of two latencies: 0 to the sum plus two standard errors

	Measurements []string // IDs of those that contain it
	Rigs         int
	Flags        []string
	Advice       string // undetermined: what would fix it
}

// A Report is what became of one measurement.
type Report struct {
	ID            string
	Merged        []string // the measurements of its row, itself among them; not to be changed
	Class         string   // variance class, as in Variance.Class
	RawMS         float64  // mean of the readings, first minus second
	KnownMS       float64  // dials and air, added to RawMS
	PredictedMS   float64  // of RawMS, from everything else; NaN never: RawMS when Uncheckable
	DeletedMS     float64  // RawMS minus PredictedMS
	StandardMS    float64  // standard deviation of DeletedMS
	Ratio         float64  // |DeletedMS| / StandardMS
	Uncheckable   bool     // nothing else determines it
	Doubtful      bool
	Cause         string  // of a doubtful one: CauseSign..., or empty
	DetectableMS  float64 // smallest error found with 80 % at 0.1 %; +Inf when Uncheckable
	Flags         []string
	DriftMSPerMin float64 // slope over the events; 0 unless FlagDrift
}

// A ClassTest compares the scatter of the free pairs with their known phase.
type ClassTest struct {
	Class string // "take.free"
	Q, Nu float64
	Low   float64 // chi-squared quantiles 0.01 and 0.99
	High  float64
	Phase PhaseRule // what it says; PhaseKnown: passed
}

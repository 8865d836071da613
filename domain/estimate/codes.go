package estimate

// The flags of offsets, latencies and measurements.
const (
	FlagCardAssumed      = "card-source-assumed"       // the assumed card offset is more than half of the variance
	FlagCardUnnamed      = "card-source-unnamed"       // the card source is not named: up to 40 ms off, one clap would settle it
	FlagReadingsDisagree = "readings-disagree"         // readings by eye range over more than one frame
	FlagDoubtful         = "doubtful"                  // contradicts the rest
	FlagDrift            = "drift"                     // the events of the measurement drift
	FlagPhaseRejected    = "phase-model-rejected-high" // more scatter than the declared free stages
	FlagLooksLocked      = "looks-locked"              // declared free, scatters as if locked
	FlagNegative         = "negative-latency"          // clearly below 0: a sign or a card offset is wrong
)

// The causes of doubtful measurements, as flags "cause:...".
const (
	CauseSign        = "cause:sign-swapped"    // early and late were swapped
	CauseFrameRate   = "cause:frame-rate"      // frames of another rate
	CauseWholeFrames = "cause:whole-frames"    // miscounted by whole frames
	CauseSeconds     = "cause:seconds-for-ms"  // seconds for milliseconds
	CauseInterlaced  = "cause:interlaced-rate" // fields for frames
	CauseControlStep = "cause:control-step"    // a control steps by another amount than declared
	CauseDestination = "cause:destination"     // read at another destination
)

// EventSDCarried is the spread of a clip's events above which it is carried
// over to the next power-up, ms.
const EventSDCarried = 3

package domain

// A Stated value is a latency, or the difference of two signals of one device,
// that somebody wrote down: a data sheet, a handbook, a bench test elsewhere.
type Stated struct {
	ID          StatedID
	Device      DeviceID
	Mode        ModeID
	Signal      Signal // the signal stated; for a difference the first one
	Minus       Signal // for a difference the second one, else empty
	ValueMS     float64
	UMS         float64 // standard uncertainty; 0 if HalfWidthMS is given
	HalfWidthMS float64 // half-width of "plus or minus", taken as rectangular; 0 if UMS is given
	Source      string
	By          KeyID
	Version     Version
	Struck      *Strike
}

// A CardSource is what somebody states of the device that shows the card: how
// much later its light comes than its sound.
type CardSource struct {
	ID       CardSourceID
	Slug     Slug // unique in the company; a later statement replaces an earlier one
	Name     string
	StatedMS float64 // light minus sound, ms
	UMS      float64 // standard uncertainty, > 0
	Source   string
	Version  Version
}

// A Limit is a tolerance of the company's own.
type Limit struct {
	ID      LimitID
	Slug    Slug
	Name    string
	EarlyMS float64 // how early the sound may be, >= 0, inclusive
	LateMS  float64 // how late the sound may be, >= 0, inclusive
	Source  string
	Version Version
}

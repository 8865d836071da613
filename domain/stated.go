package domain

// A Stated value is a latency, or the difference of two signals of one device,
// that somebody wrote down: a data sheet, a handbook, a bench test elsewhere.
type Stated struct {
	ID          StatedID `json:"id,omitzero"`
	Device      DeviceID `json:"device,omitzero"`
	Mode        ModeID   `json:"mode,omitzero"`
	Signal      Signal   `json:"signal,omitzero"` // the signal stated; for a difference the first one
	Minus       Signal   `json:"minus,omitzero"`  // for a difference the second one, else empty
	ValueMS     float64  `json:"value_ms,omitzero"`
	UMS         float64  `json:"u_ms,omitzero"`          // standard uncertainty; 0 if HalfWidthMS is given
	HalfWidthMS float64  `json:"half_width_ms,omitzero"` // half-width of "plus or minus", taken as rectangular; 0 if UMS is given
	Source      string   `json:"source,omitzero"`
	By          KeyID    `json:"by,omitzero"`
	Version     Version  `json:"version,omitzero"`
	Struck      *Strike  `json:"struck,omitzero"`
}

// A CardSource is what somebody states of the device that shows the card: how
// much later its light comes than its sound.
type CardSource struct {
	ID       CardSourceID `json:"id,omitzero"`
	Slug     Slug         `json:"slug,omitzero"` // unique in the company; a later statement replaces an earlier one
	Name     string       `json:"name,omitzero"`
	StatedMS float64      `json:"stated_ms,omitzero"` // light minus sound, ms
	UMS      float64      `json:"u_ms,omitzero"`      // standard uncertainty, > 0
	Source   string       `json:"source,omitzero"`
	Version  Version      `json:"version,omitzero"`
}

// A Limit is a tolerance of the company's own.
type Limit struct {
	ID      LimitID `json:"id,omitzero"`
	Slug    Slug    `json:"slug,omitzero"`
	Name    string  `json:"name,omitzero"`
	EarlyMS float64 `json:"early_ms,omitzero"` // how early the sound may be, >= 0, inclusive
	LateMS  float64 `json:"late_ms,omitzero"`  // how late the sound may be, >= 0, inclusive
	Source  string  `json:"source,omitzero"`
	Version Version `json:"version,omitzero"`
}

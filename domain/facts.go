package domain

import "time"

// A Change says when and by whom a book version was made.
type Change struct {
	Version Version   `json:"version,omitzero"`
	At      time.Time `json:"at,omitzero"`
	By      KeyID     `json:"by,omitzero"` // zero: made by a program beside the service
}

// Facts is a set of facts of the book. What one write adds carries one
// version; what a reader catches up with spans several. Within each list the
// facts are in order of version.
//
// A device, a rig or a key appears whole, as of its last version in the set: a
// later one replaces an earlier one. A rig's Revisions are only those added;
// they follow those already known.
type Facts struct {
	Changes      []Change
	Crews        []Crew
	Keys         []Key
	Devices      []Device
	Stated       []Stated
	CardSources  []CardSource
	Limits       []Limit
	Rigs         []Rig
	PowerUps     []PowerUp
	Measurements []Measurement
	Settings     []SettingsInForce
	Strikes      []StrikeFact
	Variances    []Variances
}

// A StrikeFact strikes out or restores a measurement or a stated value.
type StrikeFact struct {
	Measurement MeasurementID `json:"measurement,omitzero"` // zero if it concerns a stated value
	Stated      StatedID      `json:"stated,omitzero"`      // zero if it concerns a measurement
	Restores    bool          `json:"restores,omitzero"`
	Strike
}

// Last returns the newest version in the set, 0 for none.
func (f *Facts) Last() Version {
	if len(f.Changes) == 0 {
		return 0
	}
	return f.Changes[len(f.Changes)-1].Version
}

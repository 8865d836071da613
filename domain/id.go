package domain

import "github.com/google/uuid"

// The identifiers are distinct types, so that a rig can not be handed where a
// device is wanted. Each holds a UUID that the application made (version 7 in
// service, so that index pages fill in order). The zero value means "none".
type (
	// A CrewID identifies a crew.
	CrewID struct{ uuid.UUID }
	// A KeyID identifies an access key.
	KeyID struct{ uuid.UUID }
	// A DeviceID identifies a device of the catalogue.
	DeviceID struct{ uuid.UUID }
	// A ModeID identifies a mode of a device.
	ModeID struct{ uuid.UUID }
	// A ControlID identifies a control of a device.
	ControlID struct{ uuid.UUID }
	// A UnitID identifies a physical unit of a device.
	UnitID struct{ uuid.UUID }
	// A RigID identifies a rig.
	RigID struct{ uuid.UUID }
	// A PowerUpID identifies a power-up of a rig.
	PowerUpID struct{ uuid.UUID }
	// A MeasurementID identifies a measurement.
	MeasurementID struct{ uuid.UUID }
	// A StatedID identifies a stated value.
	StatedID struct{ uuid.UUID }
	// A ClipID identifies a clip.
	ClipID struct{ uuid.UUID }
	// A SettingsID identifies a dated row of settings in force.
	SettingsID struct{ uuid.UUID }
	// A LimitID identifies a limit of the company's own.
	LimitID struct{ uuid.UUID }
	// A CardSourceID identifies what is stated of a card source.
	CardSourceID struct{ uuid.UUID }
)

// A Version numbers the states of the book. The empty book is 0; each write
// that changes anything makes the next.
type Version int64

// An Epoch counts how often an import took the place of the whole book. A
// version says nothing about a book of another epoch.
type Epoch int64

// A Point is a state of the book among all that it ever was.
type Point struct {
	Epoch   Epoch
	Version Version
}

// Before reports whether the book was at p before it was at q.
func (p Point) Before(q Point) bool {
	return p.Epoch < q.Epoch || p.Epoch == q.Epoch && p.Version < q.Version
}

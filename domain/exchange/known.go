package exchange

import (
	"errors"
	"fmt"

	"delaybook/domain"
)

// known is what later lines may refer to. A book in memory is put together from
// its facts without looking whether they fit.
type known struct {
	version      domain.Version
	crews        map[domain.CrewID]bool
	devices      map[domain.DeviceID]*domain.Device
	rigs         map[domain.RigID]*domain.Rig
	powerUps     map[domain.PowerUpID]domain.RigID
	measurements map[domain.MeasurementID]bool
	stated       map[domain.StatedID]bool
}

func newKnown() *known {
	return &known{
		crews: map[domain.CrewID]bool{}, devices: map[domain.DeviceID]*domain.Device{}, rigs: map[domain.RigID]*domain.Rig{},
		powerUps: map[domain.PowerUpID]domain.RigID{}, measurements: map[domain.MeasurementID]bool{}, stated: map[domain.StatedID]bool{},
	}
}

// take notes the fact of a line, unless it refers to what no line before has.
func (k *known) take(l *line) error {
	switch {
	case l.Change != nil:
		if k.version++; l.Change.Version != k.version {
			return fmt.Errorf("it is the change of version %d where that of %d follows", l.Change.Version, k.version)
		}
	case l.Crew != nil:
		k.crews[l.Crew.ID] = true
	case l.Device != nil:
		k.devices[l.Device.ID] = l.Device
	case l.Stated != nil:
		k.stated[l.Stated.ID] = true
		return k.mode(l.Stated.Device, l.Stated.Mode)
	case l.Rig != nil:
		k.rigs[l.Rig.ID] = l.Rig
		return k.rig(l.Rig)
	case l.PowerUp != nil:
		k.powerUps[l.PowerUp.ID] = l.PowerUp.Rig
		return k.revision(l.PowerUp.Rig, 1)
	case l.Measurement != nil:
		k.measurements[l.Measurement.ID] = true
		return k.measurement(l.Measurement)
	case l.Settings != nil:
		return k.revision(l.Settings.Rig, l.Settings.Revision)
	case l.Strike != nil:
		return k.strike(l.Strike)
	}
	return nil
}

func missing(what string, id fmt.Stringer) error {
	return fmt.Errorf("it refers to the %s %s, which no line before it has", what, id)
}

func (k *known) mode(device domain.DeviceID, mode domain.ModeID) error {
	d, ok := k.devices[device]
	if !ok {
		return missing("device", device)
	}
	if _, ok := d.ModeByID(mode); !ok {
		return missing("mode", mode)
	}
	return nil
}

func (k *known) revision(rig domain.RigID, number int) error {
	r, ok := k.rigs[rig]
	if !ok {
		return missing("rig", rig)
	}
	if _, ok := r.Revision(number); !ok {
		return fmt.Errorf("it refers to revision %d of a rig that has %d", number, len(r.Revisions))
	}
	return nil
}

func (k *known) rig(r *domain.Rig) error {
	if !k.crews[r.Crew] {
		return missing("crew", r.Crew)
	}
	if len(r.Revisions) == 0 {
		return errors.New("the rig has no revision")
	}
	for i := range r.Revisions {
		if r.Revisions[i].Number != i+1 {
			return fmt.Errorf("revision %d stands where revision %d follows", r.Revisions[i].Number, i+1)
		}
		if err := k.layout(&r.Revisions[i].Layout); err != nil {
			return err
		}
	}
	return nil
}

func (k *known) layout(l *domain.Layout) error {
	if len(l.Destinations) == 0 {
		return errors.New("a revision of the rig has no destination")
	}
	var stages []domain.Stage
	for i := range l.Chains {
		stages = append(stages, l.Chains[i].Stages...)
	}
	for i := range l.Destinations {
		stages = append(append(stages, l.Destinations[i].Picture...), l.Destinations[i].Sound...)
	}
	for i := range stages {
		if err := k.stage(&stages[i]); err != nil {
			return err
		}
	}
	return nil
}

func (k *known) stage(s *domain.Stage) error {
	if err := k.mode(s.Device, s.Mode); err != nil {
		return err
	}
	d := k.devices[s.Device]
	if _, ok := d.UnitByID(s.Unit); !ok && s.Unit != (domain.UnitID{}) {
		return missing("unit", s.Unit)
	}
	for _, use := range s.Controls {
		if _, ok := d.ControlByID(use.Control); !ok {
			return missing("control", use.Control)
		}
	}
	return nil
}

func (k *known) measurement(m *domain.Measurement) error {
	if err := k.revision(m.Rig, m.Revision); err != nil {
		return err
	}
	if rig, ok := k.powerUps[m.PowerUp]; !ok || rig != m.Rig {
		return missing("power-up", m.PowerUp)
	}
	revision, _ := k.rigs[m.Rig].Revision(m.Revision)
	for _, chain := range []domain.Slug{m.First, m.Second} {
		if _, ok := revision.Layout.Chain(chain); !ok && chain != domain.LiveChain {
			return fmt.Errorf("it measures the chain %q, which the revision of the rig does not have", chain)
		}
	}
	if _, ok := revision.Layout.Destination(m.ReadAt); !ok {
		return fmt.Errorf("it was read at the destination %q, which the revision of the rig does not have", m.ReadAt)
	}
	return nil
}

func (k *known) strike(s *domain.StrikeFact) error {
	if s.Stated != (domain.StatedID{}) {
		if !k.stated[s.Stated] {
			return missing("stated value", s.Stated)
		}
		return nil
	}
	if !k.measurements[s.Measurement] {
		return missing("measurement", s.Measurement)
	}
	return nil
}

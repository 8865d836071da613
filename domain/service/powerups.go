package service

import (
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
)

// samePeriod is how long after a measurement another one counts as made in the
// same power-up when nobody says otherwise: the careful choice, because it
// claims less.
const samePeriod = 12 * time.Hour

// powerUp returns the power-up that a measurement belongs to, making it if it
// is new.
func (d *drafting) powerUp(rig *book.Rig, m *domain.Measurement, said string) domain.PowerUpID {
	switch said {
	case "new":
		return d.newPowerUp(rig, "")
	case "same", "":
		if near := d.nearest(rig, m, said == ""); near != nil {
			return near.powerUp
		}
		return d.newPowerUp(rig, "")
	}
	for _, p := range rig.PowerUps {
		if p.Label == said {
			return p.ID
		}
	}
	for _, p := range d.facts.PowerUps {
		if p.Rig == rig.ID && p.Label == said {
			return p.ID
		}
	}
	return d.newPowerUp(rig, said)
}

func (d *drafting) newPowerUp(rig *book.Rig, label string) domain.PowerUpID {
	p := domain.PowerUp{ID: domain.PowerUpID{UUID: d.service.newID()}, Rig: rig.ID, Label: label, Version: d.next}
	d.facts.PowerUps = append(d.facts.PowerUps, p)
	return p.ID
}

// A moment is when something was measured on a rig. A batch looks through all
// of them for each of its measurements, so they are plain numbers.
type moment struct {
	us       int64
	revision int
	powerUp  domain.PowerUpID
}

func momentOf(m *domain.Measurement) moment {
	return moment{m.TakenAt.UnixMicro(), m.Revision, m.PowerUp}
}

// moments returns when the rig was measured, in the order in which it was written.
func (d *drafting) moments(rig *book.Rig) []moment {
	if list, ok := d.seen[rig.ID]; ok {
		return list
	}
	list := make([]moment, 0, len(rig.Measurements)+1)
	for _, m := range rig.Measurements {
		list = append(list, momentOf(m))
	}
	d.seen[rig.ID] = list
	return list
}

// nearest returns what was measured on the rig nearest to m, preferring what
// was before it, the latest written of equals; byClock allows only the same
// revision within samePeriod.
func (d *drafting) nearest(rig *book.Rig, m *domain.Measurement, byClock bool) *moment {
	at := momentOf(m)
	var near *moment
	least, nearAfter := int64(0), false
	list := d.moments(rig)
	for i := len(list) - 1; i >= 0; i-- { // latest written first: often it is the one
		o := &list[i]
		apart, after := at.us-o.us, false
		if apart < 0 {
			apart, after = -apart, true
		}
		if byClock && (apart > samePeriod.Microseconds() || o.revision != at.revision) {
			continue
		}
		if near == nil || nearAfter && !after || nearAfter == after && apart < least {
			near, least, nearAfter = o, apart, after
		}
		if least == 0 {
			break
		}
	}
	return near
}

package service

import (
	"delaybook/domain"
	"delaybook/domain/book"

	"github.com/google/uuid"
)

// An offer is what a rig may be built from: the catalogue without what is
// retired, and the retired parts that the rig has already.
type offer struct {
	*book.Book
	kept map[uuid.UUID]bool // modes, units and controls
}

// offerTo returns the offer to a rig with the layout old, nil for a new one.
func offerTo(b *book.Book, old *domain.Layout) offer {
	o := offer{b, map[uuid.UUID]bool{}}
	if old == nil {
		return o
	}
	keep := func(stages []domain.Stage) {
		for _, s := range stages {
			o.kept[s.Mode.UUID], o.kept[s.Unit.UUID] = true, true
			for _, u := range s.Controls {
				o.kept[u.Control.UUID] = true
			}
		}
	}
	for _, c := range old.Chains {
		keep(c.Stages)
	}
	for _, d := range old.Destinations {
		keep(d.Picture)
		keep(d.Sound)
	}
	return o
}

// has reports whether a part that may be retired can be taken.
func (o offer) has(id uuid.UUID, retired bool) bool { return !retired || o.kept[id] }

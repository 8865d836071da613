package db_test

import (
	"testing"

	"delaybook/domain"
	"delaybook/domain/book"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// contents is all that a Book can be asked for.
type contents struct {
	Version      domain.Version
	Crews        []*domain.Crew
	Keys         []*domain.Key
	Devices      []*domain.Device
	Stated       []*domain.Stated
	CardSources  []*domain.CardSource
	Limits       []*domain.Limit
	Rigs         []*book.Rig
	BySlug       map[string]string // what goes by a slug now
	Measurements int               // found by identifier
	ByClient     int
}

func contentsOf(b *book.Book) contents {
	c := contents{
		Version: b.Version(), Crews: b.Crews(), Keys: b.Keys(), Devices: b.Devices(), Stated: b.StatedValues(),
		CardSources: b.CardSources(), Limits: b.Limits(), Rigs: b.Rigs(), BySlug: map[string]string{},
	}
	for _, s := range []domain.Slug{"field-camera", "roving-camera", "desk"} {
		if d, ok := b.DeviceBySlug(s); ok {
			c.BySlug["device "+string(s)] = d.ID.String()
		}
	}
	for _, crew := range []domain.CrewID{vanCrew, boatCrew} {
		for _, s := range []domain.Slug{"hall", "quay"} {
			if r, ok := b.RigBySlug(crew, s); ok {
				c.BySlug["rig "+crew.String()+" "+string(s)] = r.ID.String()
			}
		}
	}
	for _, r := range c.Rigs {
		for _, m := range r.Measurements {
			if found, _, ok := b.Measurement(m.ID); ok && found == m {
				c.Measurements++
			}
			if found, _, ok := b.MeasurementByClientID(m.ClientID); ok && found == m {
				c.ByClient++
			}
		}
	}
	return c
}

// A book loaded at once must be the book that grew with the writes, and the one
// that caught up version by version.
func TestALoadedBookIsTheBookThatGrew(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	grown, followed := book.New(0), book.New(0)
	for i, facts := range story(t) {
		v := domain.Version(i + 1)
		add(t, s, facts)
		grown = grown.With(facts)
		followed = followed.With(factsOf(t, s, v-1, v))
		want := contentsOf(grown)
		if diff := cmp.Diff(want, contentsOf(followed), same, cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("version %d: grown -, followed +:\n%s", v, diff)
		}
		loaded := book.New(0).With(factsOf(t, s, 0, v))
		if diff := cmp.Diff(want, contentsOf(loaded), same, cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("version %d: grown -, loaded +:\n%s", v, diff)
		}
	}
	if c := contentsOf(grown); c.Measurements != 31 || c.ByClient != 31 {
		t.Errorf("found %d measurements by identifier and %d by client id, want 31", c.Measurements, c.ByClient)
	}
}

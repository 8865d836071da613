package service

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/estimate"
	"delaybook/domain/timebase"

	"github.com/google/uuid"
)

// A ledger writes random facts, version after version.
type ledger struct {
	random *rand.Rand
	book   *book.Book
	crew   domain.CrewID
	device domain.Device
	rigs   []domain.RigID
	all    []domain.MeasurementID
}

func (l *ledger) id() uuid.UUID {
	var id uuid.UUID
	for i := range id {
		id[i] = byte(l.random.Uint32())
	}
	return id
}

func (l *ledger) add(f domain.Facts) {
	f.Changes = []domain.Change{{Version: l.book.Version() + 1}}
	l.book = l.book.With(&f)
}

func newLedger(tb testing.TB, random *rand.Rand) *ledger {
	tb.Helper()
	l := &ledger{random: random, book: book.New(0)}
	l.crew = domain.CrewID{UUID: l.id()}
	l.device = domain.Device{ID: domain.DeviceID{UUID: l.id()}, Slug: "cam", Kind: "camera", Modes: []domain.Mode{{ID: domain.ModeID{UUID: l.id()}, Slug: "m"}}}
	l.add(domain.Facts{Crews: []domain.Crew{{ID: l.crew, Slug: "red"}}, Devices: []domain.Device{l.device}})
	for range 3 {
		l.rigs = append(l.rigs, domain.RigID{UUID: l.id()})
		l.revise(tb, len(l.rigs)-1)
	}
	return l
}

// revise gives a rig its first or next revision.
func (l *ledger) revise(tb testing.TB, i int) {
	tb.Helper()
	rate, err := timebase.NewRate(25, 1)
	if err != nil {
		tb.Fatal(err)
	}
	number := 1
	if r, ok := l.book.Rig(l.rigs[i]); ok {
		number = r.Current().Number + 1
	}
	stages := []domain.Stage{{Device: l.device.ID, Mode: l.device.Modes[0].ID, Timing: domain.Free}}
	l.add(domain.Facts{Rigs: []domain.Rig{{
		ID: l.rigs[i], Crew: l.crew, Slug: domain.Slug(fmt.Sprintf("rig-%d", i)),
		Revisions: []domain.Revision{{Number: number, Layout: domain.Layout{
			FrameRate:    rate,
			Chains:       []domain.Chain{{Slug: "cam", Signal: domain.Picture, Stages: stages}, {Slug: "mic", Signal: domain.Sound, AirM: l.random.Float64()}},
			Destinations: []domain.Destination{{Slug: "programme"}},
		}}},
	}}})
}

// write adds a version and reports whether it leaves the devices as they were.
func (l *ledger) write(tb testing.TB) bool {
	tb.Helper()
	i := l.random.IntN(len(l.rigs))
	r, _ := l.book.Rig(l.rigs[i])
	switch kind := l.random.IntN(10); {
	case kind < 5 || len(l.all) == 0:
		m := domain.Measurement{
			ID: domain.MeasurementID{UUID: l.id()}, ClientID: l.id(), Rig: r.ID, Revision: 1 + l.random.IntN(r.Current().Number), First: "cam", FirstSig: domain.Picture,
			Second: "mic", SecondSig: domain.Sound, ReadAt: "programme", Method: domain.Clip, PowerUp: domain.PowerUpID{UUID: l.id()},
			TakenAt: time.Unix(int64(l.random.IntN(1e6)), 0), Version: l.book.Version() + 1,
			Readings: []domain.Reading{{OffsetMS: l.random.NormFloat64()}},
		}
		l.all = append(l.all, m.ID)
		l.add(domain.Facts{Measurements: []domain.Measurement{m}})
	case kind < 8:
		l.add(domain.Facts{Strikes: []domain.StrikeFact{{Measurement: l.all[l.random.IntN(len(l.all))], Restores: kind == 7}}})
	case kind < 9:
		l.revise(tb, i)
	default:
		l.device.Kind = domain.Kind(fmt.Sprintf("kind %d", l.random.IntN(3)))
		l.add(domain.Facts{Devices: []domain.Device{l.device}})
		return false
	}
	return true
}

// Whatever is written, a translation that goes on from the last version says
// what one from the beginning says, and what did not change keeps its address.
func TestTranslationGoesOn(t *testing.T) {
	t.Parallel()
	l := newLedger(t, rand.New(rand.NewPCG(3, 14)))
	var on translation
	var before []*estimate.Measurement
	for n := range 300 {
		sameDevices := l.write(t)
		got, want := on.book(l.book), new(translation).book(l.book)
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("write %d: other facts than from the beginning", n)
		}
		moved := 0
		for _, m := range before {
			if !slices.Contains(got.KeptMeasurements, m) {
				moved++
			}
		}
		if sameDevices && moved > 1 {
			t.Fatalf("write %d: %d of %d measurements moved", n, moved, len(before))
		}
		before = got.KeptMeasurements
	}
}

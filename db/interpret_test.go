package db_test

import (
	"errors"
	"strings"
	"testing"

	"delaybook/db"
	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/shopspring/decimal"
)

// told writes people, catalogue and rigs: versions 1 to 3.
func told(t *testing.T) *db.Store {
	s := newStore(t)
	for _, facts := range stampAll(people(), catalogue(t), rigs(t)) {
		add(t, s, facts)
	}
	return s
}

func TestAClashIsAConflictThatSaysWhatToDo(t *testing.T) {
	t.Parallel()
	other := domain.LimitID{UUID: id(800)}
	for _, c := range []struct {
		constraint string
		facts      domain.Facts
	}{
		{"device_slugs_pkey", domain.Facts{Devices: []domain.Device{{ID: domain.DeviceID{UUID: id(800)}, Slug: "desk"}}}},
		{"rig_slugs_pkey", domain.Facts{Rigs: []domain.Rig{
			{ID: domain.RigID{UUID: id(800)}, Crew: vanCrew, Slug: "hall", Visibility: domain.VisibleToCrew},
		}}},
		{"crews_slug_key", domain.Facts{Crews: []domain.Crew{{ID: domain.CrewID{UUID: id(800)}, Slug: "boat"}}}},
		{"keys_prefix_key", domain.Facts{Keys: []domain.Key{
			{ID: domain.KeyID{UUID: id(800)}, Purpose: domain.ForRequests, Prefix: "k2", Role: domain.Tech, CreatedAt: at(4)},
		}}},
		{"limits_slug_key", domain.Facts{Limits: []domain.Limit{{ID: other, Slug: "stage"}}}},
		{"power_ups_rig_id_label_key", domain.Facts{PowerUps: []domain.PowerUp{
			{ID: domain.PowerUpID{UUID: id(800)}, Rig: hall, Label: "doors"},
		}}},
		{"measurements_client_id_key", sameClient(t, 2)},
		{"measurements_client_id_key", sameClient(t, 30)}, // by COPY
	} {
		t.Run(c.constraint, func(t *testing.T) {
			t.Parallel()
			s := told(t)
			wantConflict(t, tryAdd(t, s, stamp(4, c.facts)), c.constraint)
			if v, err := s.Newest(t.Context()); v.Version != 3 || err != nil {
				t.Errorf("Newest() = %d, %v after a refused write, want 3", v, err)
			}
			add(t, s, stamp(4, domain.Facts{})) // the store goes on
		})
	}
}

// sameClient returns n measurements, the last two with one client identifier.
func sameClient(t *testing.T, n int) domain.Facts {
	facts := domain.Facts{}
	for i := range n {
		facts.Measurements = append(facts.Measurements, take(t, i))
	}
	facts.Measurements[n-1].ClientID = facts.Measurements[n-2].ClientID
	return facts
}

func TestAnIdempotencyKeyUsedTwiceIsAConflict(t *testing.T) {
	t.Parallel()
	s := told(t)
	record := service.Record{Scope: vanCrew, Key: "once", Version: 3}
	use := func() error {
		return s.Write(t.Context(), func(tx service.Tx) error { return tx.AddRecord(t.Context(), record) })
	}
	if err := use(); err != nil {
		t.Fatal(err)
	}
	wantConflict(t, use(), "idempotency_keys_pkey")
}

func wantConflict(t *testing.T, err error, constraint string) {
	t.Helper()
	shown, ok := errors.AsType[*domain.Error](err)
	if !ok || shown.Code != domain.Conflict {
		t.Fatalf("got %v, want a conflict", err)
	}
	if pgErr, ok := errors.AsType[*pgconn.PgError](err); !ok || pgErr.ConstraintName != constraint {
		t.Errorf("the cause is %v, want a breach of %s", shown.Err, constraint)
	}
	if strings.Contains(shown.Message, "_") || !strings.Contains(shown.Message, ":") {
		t.Errorf("message %q: want what is wrong and what to do, and no names of ours", shown.Message)
	}
}

func TestABreachThatNoRaceCanRaiseStaysInternal(t *testing.T) {
	t.Parallel()
	for name, spoil := range map[string]func(*domain.Measurement){
		"power-up unknown":  func(m *domain.Measurement) { m.PowerUp.UUID = id(801) },
		"revision unknown":  func(m *domain.Measurement) { m.Revision = 7 },
		"not a method":      func(m *domain.Measurement) { m.Method = "guess" },
		"identifier in use": func(m *domain.Measurement) { m.ID = take(t, 1).ID },
		"infinite offset":   func(m *domain.Measurement) { m.Readings[2].OffsetMS = inf },
		"a third of a frame": func(m *domain.Measurement) {
			m.Readings[0].Frames = ptr(decimal.RequireFromString("0.33"))
		},
		"more frames than a life has": func(m *domain.Measurement) {
			m.Readings[0].Frames = ptr(decimal.New(1, 10))
		},
		"a text that Postgres can not hold": func(m *domain.Measurement) { m.Note = "a\x00b" },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := told(t)
			facts := domain.Facts{Measurements: []domain.Measurement{take(t, 1), take(t, 2)}}
			spoil(&facts.Measurements[1])
			err := tryAdd(t, s, stamp(4, facts))
			if _, ok := errors.AsType[*domain.Error](err); err == nil || ok {
				t.Errorf("got %v, want an error that is not for people", err)
			}
			if got := factsOf(t, s, 3, 9); !cmp.Equal(got, &domain.Facts{}) {
				t.Errorf("a refused write left %+v", got)
			}
			add(t, s, stamp(4, domain.Facts{})) // the store goes on
		})
	}
}

func TestAnErrorWithACodeIsLeftAlone(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	want := domain.Errorf(domain.Denied, "not yours")
	if err := s.Write(t.Context(), func(service.Tx) error { return want }); err != error(want) {
		t.Errorf("Write = %v, want the very error of the use case", err)
	}
}

package db_test

import (
	"testing"

	"delaybook/db"
	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/google/go-cmp/cmp"
)

func TestARecordIsFoundUnderItsScopeAndKey(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	ours := service.Record{Scope: vanCrew, Key: "once", Fingerprint: [32]byte{7, 31: 9}, Version: 1, Subject: "crew red-van"}
	company := service.Record{Key: "once", Version: 1, Subject: "company"}
	err := s.Write(t.Context(), func(tx service.Tx) error {
		// The records refer to the version that is only added after them.
		for _, r := range []service.Record{ours, company} {
			if err := tx.AddRecord(t.Context(), r); err != nil {
				return err
			}
		}
		return tx.Add(t.Context(), stamp(1, people()))
	})
	if err != nil {
		t.Fatal(err)
	}
	wantRecord(t, s, vanCrew, "once", &ours)
	wantRecord(t, s, domain.CrewID{}, "once", &company)
	wantRecord(t, s, boatCrew, "once", nil)
	wantRecord(t, s, vanCrew, "twice", nil)
}

func TestATransactionSeesTheRecordsThatItAdded(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	want := &service.Record{Key: "k", Version: 1}
	err := s.Write(t.Context(), func(tx service.Tx) error {
		if err := tx.Add(t.Context(), stamp(1, people())); err != nil {
			return err
		}
		if err := tx.AddRecord(t.Context(), *want); err != nil {
			return err
		}
		got, err := tx.Record(t.Context(), domain.CrewID{}, "k")
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("added -, read +:\n%s", diff)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	wantRecord(t, s, domain.CrewID{}, "k", want)
}

func wantRecord(t *testing.T, s *db.Store, scope domain.CrewID, key string, want *service.Record) {
	t.Helper()
	err := s.Write(t.Context(), func(tx service.Tx) error {
		got, err := tx.Record(t.Context(), scope, key)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("Record(%s, %q): want -, got +:\n%s", scope, key, diff)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

package db_test

import (
	"strings"
	"testing"

	"delaybook/db"
	"delaybook/db/dbtest"
	"delaybook/migrations"
)

func TestOpenSaysWhatIsWrong(t *testing.T) {
	t.Parallel()
	for url, want := range map[string]string{
		"postgres://%zz": "address of the database",
		"postgres://app@127.0.0.1:1/x?connect_timeout=2": "reach the database",
	} {
		s, err := db.Open(t.Context(), url, db.Options{})
		if err == nil {
			s.Close()
			t.Fatalf("Open(%q) succeeded", url)
		}
		if !strings.Contains(err.Error(), want) {
			t.Errorf("Open(%q): %v, want %q in it", url, err, want)
		}
	}
}

func TestTheStoreWorksAfterTheTablesWereMadeAnew(t *testing.T) {
	t.Parallel()
	url := dbtest.New(t)
	if err := migrations.Down(t.Context(), url); err != nil {
		t.Fatal(err)
	}
	s := open(t, url)
	if _, err := s.Newest(t.Context()); err == nil {
		t.Error("there is a version without tables")
	}
	if err := migrations.Up(t.Context(), url); err != nil {
		t.Fatal(err)
	}
	for _, facts := range story(t) {
		add(t, s, facts)
	}
}

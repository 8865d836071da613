package db_test

import (
	"encoding/binary"
	"testing"
	"time"

	"delaybook/db"
	"delaybook/db/dbtest"
	"delaybook/domain"
	"delaybook/domain/service"
	"delaybook/domain/timebase"
	"delaybook/migrations"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

func TestMain(m *testing.M) { dbtest.Main(m, migrations.Up) }

// open returns a Store of the database at url that is closed with the test.
func open(tb testing.TB, url string) *db.Store {
	tb.Helper()
	s, err := db.Open(tb.Context(), url, db.Options{MaxConns: 4})
	if err != nil {
		tb.Fatalf("open the store: %v", err)
	}
	tb.Cleanup(s.Close)
	return s
}

// newStore returns a Store of a fresh database.
func newStore(tb testing.TB) *db.Store {
	tb.Helper()
	return open(tb, dbtest.New(tb))
}

// add writes facts, which must carry the next version.
func add(tb testing.TB, s *db.Store, facts *domain.Facts) {
	tb.Helper()
	if err := tryAdd(tb, s, facts); err != nil {
		tb.Fatalf("add the facts of version %d: %v", facts.Last(), err)
	}
}

func tryAdd(tb testing.TB, s *db.Store, facts *domain.Facts) error {
	return s.Write(tb.Context(), func(tx service.Tx) error { return tx.Add(tb.Context(), facts) })
}

// factsOf reads the versions after one up to another.
func factsOf(tb testing.TB, s *db.Store, after, upTo domain.Version) *domain.Facts {
	tb.Helper()
	facts, err := s.Facts(tb.Context(), after, domain.Point{Version: upTo})
	if err != nil {
		tb.Fatalf("read (%d, %d]: %v", after, upTo, err)
	}
	return facts
}

// same compares facts exactly: instants with their offset from UTC, decimals by
// value (1.50 and 1.5 are one setting), all else as Go does.
var same = cmp.Options{
	cmp.Comparer(func(a, b timebase.Rate) bool { return a == b }),
	cmp.Comparer(func(a, b timebase.SampleRate) bool { return a == b }),
	cmp.Comparer(func(a, b time.Time) bool {
		_, x := a.Zone()
		_, y := b.Zone()
		return a.Equal(b) && x == y
	}),
}

// id returns the n-th identifier; they ascend with n.
func id(n int) (u uuid.UUID) {
	binary.BigEndian.PutUint64(u[8:], uint64(n))
	u[0] = 1 // not the zero identifier
	return u
}

// at returns the n-th minute of a show day, to the microsecond.
func at(n int) time.Time {
	return time.Date(2026, 3, 14, 17, n, 5, 123456000, time.UTC)
}

func rate(tb testing.TB, text string) timebase.Rate {
	tb.Helper()
	r, err := timebase.ParseRate(text)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

func ptr[T any](v T) *T { return &v }

// zone returns the clock of the n-th person: UTC, and both sides of it, by
// whole and by other hours.
func zone(n int) *time.Location {
	offset := []int{0, 3600, -34200, 20700}[n%4] // the last two are UTC-9:30 and UTC+5:45
	if offset == 0 {
		return time.UTC
	}
	return time.FixedZone("", offset)
}

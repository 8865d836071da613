package db_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"delaybook/db"
	"delaybook/db/dbtest"
	"delaybook/domain"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// patience is how long a test waits for what must happen: far longer than a
// busy machine takes.
const patience = 20 * time.Second

// An event is a call of one of the functions given to Watch.
type event struct {
	version domain.Version
	lost    error
}

// watch runs Watch until the test ends, or the returned function is called.
func watch(t *testing.T, s *db.Store) (<-chan event, context.CancelFunc) {
	ctx, cancel := context.WithCancel(t.Context())
	events, ended := make(chan event, 100), make(chan struct{})
	go func() {
		defer close(ended)
		s.Watch(ctx, func(p domain.Point) { events <- event{version: p.Version} }, func(err error) { events <- event{lost: err} })
	}()
	stop := func() {
		cancel()
		select {
		case <-ended:
		case <-time.After(patience):
			t.Error("Watch goes on after its context ended")
		}
	}
	t.Cleanup(stop)
	return events, stop
}

func wantVersion(t *testing.T, events <-chan event, want domain.Version) {
	t.Helper()
	select {
	case e := <-events:
		if e.version != want || e.lost != nil {
			t.Fatalf("got %+v, want version %d", e, want)
		}
	case <-time.After(patience):
		t.Fatalf("waited in vain for version %d", want)
	}
}

func wantLost(t *testing.T, events <-chan event) {
	t.Helper()
	select {
	case e := <-events:
		if e.lost == nil || !strings.Contains(e.lost.Error(), "watch the book") {
			t.Fatalf("got %+v, want lost", e)
		}
	case <-time.After(patience):
		t.Fatal("waited in vain for lost")
	}
}

func crew(n int) domain.Facts {
	return domain.Facts{Crews: []domain.Crew{{ID: domain.CrewID{UUID: id(n)}, Slug: domain.Slug(uuid.NewString())}}}
}

func TestWatchSeesTheWritesOfAnotherProcess(t *testing.T) {
	t.Parallel()
	url := dbtest.New(t)
	reader, writer := open(t, url), open(t, url)
	add(t, writer, stamp(1, crew(1)))
	events, stop := watch(t, reader)
	wantVersion(t, events, 1)
	for v := domain.Version(2); v < 5; v++ {
		add(t, writer, stamp(v, crew(int(v))))
		wantVersion(t, events, v)
	}
	stop()
	add(t, writer, stamp(5, crew(5)))
	select {
	case e := <-events:
		t.Errorf("got %+v after the end", e)
	default:
	}
}

func TestWatchPassesOverWhatCameMeanwhile(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	var seen []domain.Version
	entered, release := make(chan struct{}), make(chan struct{})
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		s.Watch(ctx, func(p domain.Point) {
			v := p.Version
			if seen = append(seen, v); v == 0 {
				close(entered)
				<-release
			}
			if v == 30 {
				cancel()
			}
		}, func(err error) { t.Error(err) })
	}()
	<-entered
	for v := domain.Version(1); v <= 30; v++ {
		add(t, s, stamp(v, crew(int(v))))
	}
	close(release)
	<-ended
	// Between the first and the last call the listener may hand over one that
	// came before the rest was read from the connection.
	if len(seen) > 10 {
		t.Errorf("changed was called for %v: want few of 30", seen)
	}
	for i := 1; i < len(seen); i++ {
		if seen[i] <= seen[i-1] {
			t.Errorf("changed was called for %v: want ascending versions", seen)
		}
	}
}

func TestWatchReconnects(t *testing.T) {
	t.Parallel()
	url := dbtest.New(t)
	s := open(t, url)
	events, _ := watch(t, s)
	wantVersion(t, events, 0)

	config, err := pgx.ParseConfig(url)
	if err != nil {
		t.Fatal(err)
	}
	name := pgx.Identifier{config.Database}.Sanitize()
	config.Database = "template1"
	outside, err := pgx.ConnectConfig(t.Context(), config)
	if err != nil {
		t.Fatal(err)
	}
	defer outside.Close(context.WithoutCancel(t.Context()))
	run := func(sql string, args ...any) {
		t.Helper()
		if _, err := outside.Exec(t.Context(), sql, args...); err != nil {
			t.Fatal(err)
		}
	}
	run(`ALTER DATABASE ` + name + ` ALLOW_CONNECTIONS false`)
	run(`SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = $1`, strings.Trim(name, `"`))
	wantLost(t, events)
	if err := s.Ping(t.Context()); err == nil {
		t.Error("Ping answers for a database that takes no connections")
	}
	select {
	case e := <-events:
		t.Errorf("got %+v while nothing changed for the better", e)
	case <-time.After(500 * time.Millisecond): // room for two further attempts
	}
	run(`ALTER DATABASE ` + name + ` ALLOW_CONNECTIONS true`)
	wantVersion(t, events, 0)
	add(t, s, stamp(1, crew(1)))
	wantVersion(t, events, 1)
}

// A change without a notification stands for one that got lost on the way.
func TestWatchLooksAgainWhenNothingIsHeard(t *testing.T) {
	t.Parallel()
	url := dbtest.New(t)
	s := open(t, url)
	s.SetLookAgain(300 * time.Millisecond)
	events, _ := watch(t, s)
	wantVersion(t, events, 0)
	execSQL(t, url, `UPDATE book SET version = 7`)
	wantVersion(t, events, 7)
	execSQL(t, url, `UPDATE book SET version = 8; NOTIFY book, '0/8'`) // the connection still listens
	wantVersion(t, events, 8)
}

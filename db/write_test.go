package db_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"
	"testing"

	"delaybook/db"
	"delaybook/db/dbtest"
	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

var inf = math.Inf(1)

// Two processes with several writers each: every write must get a version of
// its own, without gaps, and see those before it.
func TestConcurrentWritersMakeVersionsWithoutGaps(t *testing.T) {
	t.Parallel()
	const writers, each = 4, 10
	url := dbtest.New(t)
	stores := []*db.Store{open(t, url), open(t, url)}
	seen := make([][]domain.Version, len(stores)*writers)
	var group sync.WaitGroup
	for w := range seen {
		group.Go(func() {
			for range each {
				err := stores[w%len(stores)].Write(t.Context(), func(tx service.Tx) error {
					v := tx.Version() + 1
					seen[w] = append(seen[w], v)
					crew := domain.Crew{ID: domain.CrewID{UUID: id(int(v))}, Slug: domain.Slug(uuid.NewString())}
					return tx.Add(t.Context(), stamp(v, domain.Facts{Crews: []domain.Crew{crew}}))
				})
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	group.Wait()
	facts := factsOf(t, stores[0], 0, math.MaxInt64)
	if len(facts.Changes) != len(seen)*each || len(facts.Crews) != len(seen)*each {
		t.Fatalf("%d versions with %d crews after %d writes", len(facts.Changes), len(facts.Crews), len(seen)*each)
	}
	for i, c := range facts.Changes {
		if c.Version != domain.Version(i+1) || facts.Crews[i].Version != c.Version {
			t.Fatalf("change %d has version %d and its crew %d", i, c.Version, facts.Crews[i].Version)
		}
	}
	for w, versions := range seen {
		for i := 1; i < len(versions); i++ {
			if versions[i] <= versions[i-1] {
				t.Errorf("writer %d saw version %d after %d", w, versions[i], versions[i-1])
			}
		}
	}
}

func TestAWriteThatFailsLeavesNothing(t *testing.T) {
	t.Parallel()
	s := told(t)
	before := factsOf(t, s, 0, 99)
	refusal := errors.New("changed my mind")
	err := s.Write(t.Context(), func(tx service.Tx) error {
		facts := stamp(4, manyTakes(t, 1, 30)) // by COPY: in the database already
		if err := tx.Add(t.Context(), facts); err != nil {
			t.Error(err)
		}
		if err := tx.AddRecord(t.Context(), service.Record{Key: "k", Version: 4}); err != nil {
			t.Error(err)
		}
		return refusal
	})
	if err != refusal {
		t.Errorf("Write = %v, want the error of fn", err)
	}
	if diff := cmp.Diff(before, factsOf(t, s, 0, 99), same); diff != "" {
		t.Errorf("before -, after +:\n%s", diff)
	}
	wantRecord(t, s, domain.CrewID{}, "k", nil)
}

func TestAPanicGivesTheLockBack(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	func() {
		defer func() { _ = recover() }()
		_ = s.Write(t.Context(), func(service.Tx) error { panic("fault") })
	}()
	add(t, s, stamp(1, people()))
}

func TestAnErrorThatFnSwallowsStillFailsTheWrite(t *testing.T) {
	t.Parallel()
	s := told(t)
	err := s.Write(t.Context(), func(tx service.Tx) error {
		_ = tx.Add(t.Context(), stamp(4, sameClient(t, 30))) // by COPY: fails at once
		return nil
	})
	wantConflict(t, err, "measurements_client_id_key")
}

func TestACommitThatPostgresTurnsIntoARollbackIsAnError(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	if err := s.WriteWithUnseenFailure(t.Context()); err == nil || !strings.Contains(err.Error(), "ROLLBACK") {
		t.Errorf("got %v, want that the transaction ended in ROLLBACK", err)
	}
	add(t, s, stamp(1, people()))
}

func TestFactsOfAnotherVersionAreRefused(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	mixed := stamp(1, people())
	mixed.Crews[1].Version = 2
	nested := stamp(1, rigs(t))
	nested.Rigs[0].Revisions[0].Version = 3
	for name, facts := range map[string]*domain.Facts{
		"of a later version": stamp(2, people()), "mixed": mixed, "in a revision": nested, "of no version": {},
	} {
		if err := tryAdd(t, s, facts); err == nil || !strings.Contains(err.Error(), "version") {
			t.Errorf("facts %s: got %v, want a complaint about versions", name, err)
		}
	}
	err := s.Write(t.Context(), func(tx service.Tx) error {
		return errors.Join(tx.Add(t.Context(), stamp(1, people())), tx.Add(t.Context(), stamp(1, people())))
	})
	if err == nil || !strings.Contains(err.Error(), "already") {
		t.Errorf("adding twice: got %v", err)
	}
}

func TestRevokingAKeyTwiceIsRefused(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	add(t, s, stamp(1, people()))
	revoked := people().Keys[1]
	revoked.Version, revoked.Revoked = 1, 2
	add(t, s, stamp(2, domain.Facts{Keys: []domain.Key{revoked}}))
	revoked.Revoked = 3
	if err := tryAdd(t, s, stamp(3, domain.Facts{Keys: []domain.Key{revoked}})); err == nil {
		t.Error("want an error: the book would say 3 and the database 2")
	}
	if v, err := s.Newest(t.Context()); v.Version != 2 || err != nil {
		t.Errorf("Newest() = %d, %v, want 2", v, err)
	}
}

// Postgres itself asks for the repetition here: a trigger raises the error that
// it names, as often as told. A sequence counts, since it outlives a rollback.
func TestAWriteIsRepeatedWhenPostgresAsksForIt(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		state string
		fails int
		runs  int
		ok    bool
	}{
		{"40001", 2, 3, true},
		{"40P01", 4, 5, true},
		{"40001", 99, 5, false},
		{"55P03", 1, 1, false}, // lock_not_available: not for us to repeat
	} {
		t.Run(c.state, func(t *testing.T) {
			t.Parallel()
			url := dbtest.New(t)
			execSQL(t, url, `
				CREATE SEQUENCE attempts;
				CREATE FUNCTION fail() RETURNS trigger LANGUAGE plpgsql AS $$
				BEGIN
					IF nextval('attempts') <= TG_ARGV[0]::int THEN RAISE 'again' USING ERRCODE = TG_ARGV[1]; END IF;
					RETURN NEW;
				END $$;
				CREATE TRIGGER fail BEFORE INSERT ON versions FOR EACH ROW EXECUTE FUNCTION fail(`+
				fmt.Sprintf("'%d', '%s'", c.fails, c.state)+`)`)
			s, runs := open(t, url), 0
			err := s.Write(t.Context(), func(tx service.Tx) error {
				runs++
				return tx.Add(t.Context(), stamp(1, people()))
			})
			if (err == nil) != c.ok || runs != c.runs {
				t.Errorf("fn ran %d times, error %v; want %d times, success %v", runs, err, c.runs, c.ok)
			}
			if pgErr, ok := errors.AsType[*pgconn.PgError](err); !c.ok && (!ok || pgErr.Code != c.state) {
				t.Errorf("error %v does not carry its cause", err)
			}
		})
	}
}

func TestAWriterThatWaitsCanGiveUp(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	err := s.Write(t.Context(), func(service.Tx) error {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if err := s.Write(ctx, func(service.Tx) error { return nil }); !errors.Is(err, context.Canceled) {
			t.Errorf("the second writer got %v", err)
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}

// Writers that queue must leave connections to readers, however many they are.
func TestWritersThatQueueDoNotHoldUpReaders(t *testing.T) {
	t.Parallel()
	s := newStore(t) // 4 connections
	ctx, cancel := context.WithCancel(t.Context())
	const writers = 20
	var group sync.WaitGroup
	started := make(chan struct{}, writers)
	err := s.Write(t.Context(), func(service.Tx) error {
		for range writers {
			group.Go(func() {
				started <- struct{}{}
				_ = s.Write(ctx, func(service.Tx) error { return nil })
			})
		}
		for range writers {
			<-started
		}
		reading, stop := context.WithTimeout(t.Context(), patience)
		defer stop()
		for range 100 { // by then the writers hold what they can
			if _, err := s.Newest(reading); err != nil {
				return err
			}
		}
		return nil
	})
	cancel()
	group.Wait()
	if err != nil {
		t.Error(err)
	}
}

func execSQL(tb testing.TB, url, sql string) {
	tb.Helper()
	conn, err := pgx.Connect(tb.Context(), url)
	if err != nil {
		tb.Fatal(err)
	}
	defer conn.Close(context.WithoutCancel(tb.Context()))
	if _, err := conn.Exec(tb.Context(), sql); err != nil {
		tb.Fatal(err)
	}
}

// A write that fails is no reason to connect anew.
func TestAWriteThatFailsKeepsItsConnection(t *testing.T) {
	t.Parallel()
	s := told(t)
	before := s.NewConns()
	for range 3 {
		if err := tryAdd(t, s, stamp(4, sameClient(t, 2))); err == nil { // refused with the commit
			t.Error("want a conflict")
		}
		err := s.Write(t.Context(), func(tx service.Tx) error {
			return tx.Add(t.Context(), stamp(4, sameClient(t, 30))) // refused in COPY
		})
		if err == nil {
			t.Error("want a conflict")
		}
		ctx, cancel := context.WithCancel(t.Context())
		err = s.Write(ctx, func(service.Tx) error {
			cancel()
			return context.Cause(ctx)
		})
		if !errors.Is(err, context.Canceled) {
			t.Errorf("got %v, want that the caller gave up", err)
		}
	}
	if made := s.NewConns() - before; made != 0 {
		t.Errorf("%d new connections after writes that failed", made)
	}
}

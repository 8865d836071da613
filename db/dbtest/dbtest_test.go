package dbtest_test

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/jackc/pgx/v5"

	"delaybook/db/dbtest"
)

var migrations atomic.Int64

// failVariable makes the migration of a child process fail.
const failVariable = "DBTEST_FAIL_MIGRATION"

func TestMain(m *testing.M) {
	dbtest.Main(m, func(ctx context.Context, url string) error {
		migrations.Add(1)
		if os.Getenv(failVariable) != "" {
			return errors.New("a migration that is wrong")
		}
		return runSQL(ctx, url, `CREATE TABLE rigs (name text PRIMARY KEY); INSERT INTO rigs VALUES ('from the migration')`)
	})
}

func TestEachTestHasItsOwnDatabase(t *testing.T) {
	t.Parallel()
	for i := range 12 {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			t.Parallel()
			db := dbtest.New(t)
			if err := runSQL(t.Context(), db, `INSERT INTO rigs VALUES ('mine')`); err != nil {
				t.Fatal(err)
			}
			if got := text(t, db, `SELECT count(*)::text FROM rigs`); got != "2" {
				t.Errorf("the database holds %s rigs, want the one of the migration and mine", got)
			}
			if n := migrations.Load(); n != 1 {
				t.Errorf("%d migrations, want 1", n)
			}
		})
	}
}

func TestTwoDatabasesInOneTest(t *testing.T) {
	t.Parallel()
	a, b := dbtest.New(t), dbtest.New(t)
	if err := runSQL(t.Context(), a, `DELETE FROM rigs`); err != nil {
		t.Fatal(err)
	}
	if got := text(t, b, `SELECT count(*)::text FROM rigs`); got != "1" {
		t.Errorf("deleting in one left %s rigs in the other, want 1", got)
	}
}

func TestDatabaseIsDroppedAfterTheTest(t *testing.T) {
	t.Parallel()
	mine := dbtest.New(t)
	var name string
	t.Run("subtest with an open connection", func(t *testing.T) {
		db := dbtest.New(t)
		u, err := url.Parse(db)
		if err != nil {
			t.Fatal(err)
		}
		name = strings.TrimPrefix(u.Path, "/")
		if _, err := pgx.Connect(t.Context(), db); err != nil {
			t.Fatal(err)
		}
	})
	if got := text(t, mine, `SELECT count(*)::text FROM pg_database WHERE datname = '`+name+`'`); got != "0" {
		t.Errorf("database %s outlived its test", name)
	}
}

func BenchmarkNew(b *testing.B) {
	dbtest.New(b)
	for b.Loop() {
		dbtest.New(b)
	}
}

func runSQL(ctx context.Context, url, sql string) error {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return err
	}
	_, err = conn.Exec(ctx, sql)
	return errors.Join(err, conn.Close(ctx))
}

func text(tb testing.TB, url, sql string) string {
	tb.Helper()
	conn, err := pgx.Connect(tb.Context(), url)
	if err != nil {
		tb.Fatal(err)
	}
	defer conn.Close(tb.Context())
	var s string
	if err := conn.QueryRow(tb.Context(), sql).Scan(&s); err != nil {
		tb.Fatalf("%s: %v", sql, err)
	}
	return s
}

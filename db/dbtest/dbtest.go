// Package dbtest gives every test a migrated PostgreSQL database of its own.
//
// A test binary that asks for one gets a private, volatile server (see
// delaybook/db/pglaunch), in memory where the system has room for that. It is
// started at the first call of New, and migrated once, into a template that
// every test's database is a copy of. Several test binaries may run at once:
// each has its own server.
//
// Two environment variables matter. TEST_DATABASE_URL names a database of a
// server to use instead; its role must be allowed to create databases.
// PG_BINDIR names the folder of the server programs.
//
// When no server works tests fail. They are never skipped: a skipped database
// test looks like a passed one.
package dbtest

import (
	"context"
	"fmt"
	"os"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/jackc/pgx/v5"
)

// Migrate brings the empty database at url to the schema under test. It must
// leave no connection open.
type Migrate func(ctx context.Context, url string) error

// The state of a test binary. Tests share nothing else than their process.
var (
	migrate Migrate
	begin   sync.Once
	shared  *server
	failure error // why shared is nil
	created atomic.Int64
)

// Main runs the tests of a package that uses New. It is the body of TestMain:
//
//	func TestMain(m *testing.M) { dbtest.Main(m, migrations.Up) }
//
// It starts nothing by itself, and stops the server if there is one.
func Main(m *testing.M, migration Migrate) {
	migrate = migration
	m.Run() // its result is the exit code of the binary
	if shared == nil {
		return
	}
	if err := shared.stop(context.Background()); err != nil {
		fmt.Fprintln(os.Stderr, "dbtest:", err)
	}
}

// New returns the address of a fresh migrated database, which is dropped when
// tb and its subtests have ended, with connections that are still open. It may
// be called by parallel tests, and more than once by a test.
func New(tb testing.TB) string {
	tb.Helper()
	begin.Do(func() { shared, failure = newServer(context.WithoutCancel(tb.Context()), migrate) })
	if failure != nil {
		tb.Fatalf("dbtest: no database to test with: %v", failure)
	}
	name := fmt.Sprintf("t_%d_%d", os.Getpid(), created.Add(1))
	if err := shared.create(tb.Context(), name); err != nil {
		tb.Fatalf("dbtest: %v", err)
	}
	tb.Cleanup(func() {
		if err := shared.drop(context.WithoutCancel(tb.Context()), name); err != nil {
			tb.Errorf("dbtest: %v", err)
		}
	})
	return shared.url(name)
}

// quoted makes an SQL identifier of a name.
func quoted(name string) string { return pgx.Identifier{name}.Sanitize() }

package migrations_test

import (
	"context"
	"testing"

	"delaybook/db/dbtest"
	"delaybook/migrations"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"
)

func TestMain(m *testing.M) { dbtest.Main(m, migrations.Up) }

func TestUpDownUpMakesTheSame(t *testing.T) {
	t.Parallel()
	url := dbtest.New(t)
	want := schema(t, url)
	if len(want) < 100 {
		t.Fatalf("only %d columns, constraints and indexes", len(want))
	}
	if err := migrations.Down(t.Context(), url); err != nil {
		t.Fatal(err)
	}
	if left := schema(t, url); len(left) > 0 {
		t.Errorf("left after Down: %v", left)
	}
	for range 2 { // the second time there is nothing to do
		if err := migrations.Up(t.Context(), url); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, schema(t, url)); diff != "" {
			t.Errorf("first Up -, this Up +:\n%s", diff)
		}
	}
}

// Errors are told apart by the name of the constraint, so each must have one
// that we chose: that of its table and columns.
func TestNoConstraintIsNamedByAccident(t *testing.T) {
	t.Parallel()
	const sql = `
		SELECT conrelid::regclass || ' ' || conname
		FROM   pg_constraint
		WHERE  connamespace = 'public'::regnamespace AND conname ~ '[0-9]$'`

	if odd := query(t, dbtest.New(t), sql); len(odd) > 0 {
		t.Errorf("constraints with numbered names: %v", odd)
	}
}

// schema describes all columns, constraints and indexes but those of the tool.
func schema(t *testing.T, url string) []string {
	const sql = `
		SELECT format('column %s.%s %s %s', table_name, column_name, data_type, is_nullable)
		FROM   information_schema.columns
		WHERE  table_schema = 'public' AND table_name <> 'schema_migrations'
		UNION ALL
		SELECT format('constraint %s %s %s', conrelid::regclass, conname, pg_get_constraintdef(oid))
		FROM   pg_constraint
		WHERE  connamespace = 'public'::regnamespace AND conrelid <> coalesce(to_regclass('schema_migrations'), 0)
		UNION ALL
		SELECT indexdef
		FROM   pg_indexes
		WHERE  schemaname = 'public' AND tablename <> 'schema_migrations'
		ORDER  BY 1`

	return query(t, url, sql)
}

func query(t *testing.T, url, sql string) []string {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.WithoutCancel(t.Context()))
	rows, err := conn.Query(t.Context(), sql)
	if err != nil {
		t.Fatal(err)
	}
	texts, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		t.Fatal(err)
	}
	return texts
}

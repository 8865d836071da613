package db

import (
	"context"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
)

// copyFrom is the number of rows from which a list goes by COPY. Each COPY
// costs a round trip of its own, each row sent singly a statement; near this
// number BenchmarkWrite shows both to cost the same.
const copyFrom = 21

// A table is where rows of one kind go. One definition serves both ways of
// writing, so that the two cannot differ.
type table struct {
	name    string
	columns []string
	insert  string // one row
	keeps   bool   // a row that is there stays as it is
}

// newTable describes a table whose rows are all new.
func newTable(name string, columns ...string) *table {
	places := make([]string, len(columns))
	for i := range places {
		places[i] = fmt.Sprintf("$%d", i+1)
	}
	insert := fmt.Sprintf("INSERT INTO %s (%s) VALUES (%s)", name, strings.Join(columns, ", "), strings.Join(places, ", "))
	return &table{name: name, columns: columns, insert: insert}
}

// newKeptTable describes a table whose rows never change and may be there
// already: those with a known id are passed over.
func newKeptTable(name string, columns ...string) *table {
	t := newTable(name, columns...)
	t.insert += " ON CONFLICT (id) DO NOTHING"
	t.keeps = true
	return t
}

// queue lets one row wait for the next flush.
func (t *tx) queue(to *table, row []any) { t.batch.Queue(to.insert, row...) }

// put adds rows to a table: a short list waits for the next flush, a long one
// is sent at once, behind all that waits.
func (t *tx) put(ctx context.Context, to *table, rows [][]any) error {
	if len(rows) < copyFrom || to.keeps {
		for _, row := range rows {
			t.queue(to, row)
		}
		return t.err
	}
	if err := t.flush(ctx); err != nil {
		return err
	}
	_, err := t.conn.CopyFrom(ctx, pgx.Identifier{to.name}, to.columns, pgx.CopyFromRows(rows))
	return t.failed(err)
}

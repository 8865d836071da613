package db

import (
	"context"
	"fmt"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/jackc/pgx/v5"
)

// Facts implements service.Store.
func (s *Store) Facts(ctx context.Context, after domain.Version, upTo domain.Point) (*domain.Facts, error) {
	facts, err := s.facts(ctx, after, upTo)
	if err != nil {
		return nil, fmt.Errorf("read the book from version %d to %d: %w", after, upTo.Version, err)
	}
	return facts, nil
}

func (s *Store) facts(ctx context.Context, after domain.Version, upTo domain.Point) (*domain.Facts, error) {
	conn, err := s.pool.Acquire(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Release() // closes the connection if an error left it in the transaction
	l := newLoader(after, upTo.Version)
	l.batch.Queue(`SELECT epoch FROM book`).QueryRow(func(row pgx.Row) error { return row.Scan(&l.epoch) })
	l.changes()
	l.crews()
	l.keys()
	l.devices()
	l.stated()
	l.cardSources()
	l.limits()
	l.rigs()
	l.layouts()
	l.powerUps()
	l.measurements()
	l.settings()
	l.strikes()
	l.variances()
	l.batch.Queue(`COMMIT`)
	if err := conn.SendBatch(ctx, &l.batch).Close(); err != nil {
		return nil, err
	}
	if l.epoch != upTo.Epoch {
		return nil, service.ErrReplaced
	}
	return l.facts, nil
}

// A loader collects the facts of the versions after one up to another. Its
// methods queue the queries of one kind of fact; the answers come in the same
// order, so that a part finds the whole that was read before it.
type loader struct {
	batch    pgx.Batch
	interval pgx.StrictNamedArgs // after, up_to
	facts    *domain.Facts
	epoch    domain.Epoch // of the book that is read
}

func newLoader(after, upTo domain.Version) *loader {
	l := &loader{interval: pgx.StrictNamedArgs{"after": after, "up_to": upTo}, facts: &domain.Facts{}}
	l.batch.BeginTx(pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	return l
}

// read queues a query whose rows go to each, one by one. The names of its
// columns are those of Row.
//
// The queries find the parts of what the interval brought by = ANY (ARRAY(...))
// and not by a join. Postgres plans them without knowing how long the interval
// is; a join it plans for the whole book, and then reads the whole table of
// parts for a single new version. An array it always looks up by index.
func read[Row any](l *loader, sql string, each func(Row) error) {
	l.batch.Queue(sql, l.interval).Query(func(rows pgx.Rows) error {
		for rows.Next() {
			row, err := pgx.RowToStructByName[Row](rows)
			if err != nil {
				return err
			}
			if err := each(row); err != nil {
				return err
			}
		}
		return rows.Err()
	})
}

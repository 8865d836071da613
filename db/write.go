package db

import (
	"context"
	"errors"
	"fmt"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/jackc/pgerrcode"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
)

const (
	writeAttempts = 5
	retryPause    = 10 * time.Millisecond // before the second attempt; doubled before each further one

	// rollbackTimeout bounds the wait for a rollback, which goes on when the
	// caller has given up. A connection that misses it is closed, which rolls
	// back too.
	rollbackTimeout = 5 * time.Second
)

// Write implements service.Store. Postgres ends the transaction if fn leaves it
// alone for longer than idleInTransaction.
func (s *Store) Write(ctx context.Context, fn func(tx service.Tx) error) error {
	select {
	case s.writer <- struct{}{}:
	case <-ctx.Done():
		return fmt.Errorf("wait for other writers: %w", context.Cause(ctx))
	}
	defer func() { <-s.writer }()

	pause := retryPause
	for attempt := 1; ; attempt++ {
		err := s.writeOnce(ctx, fn)
		if attempt == writeAttempts || !wantsRetry(err) {
			return err
		}
		if !sleep(ctx, pause) {
			return err
		}
		pause *= 2
	}
}

// wantsRetry reports whether Postgres rolled back for the sake of other
// transactions: the same again may succeed.
func wantsRetry(err error) bool {
	pgErr, ok := errors.AsType[*pgconn.PgError](err)
	return ok && (pgErr.Code == pgerrcode.SerializationFailure || pgErr.Code == pgerrcode.DeadlockDetected)
}

// sleep waits for d and reports true, or false when ctx ends before.
func sleep(ctx context.Context, d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-ctx.Done():
		return false
	}
}

func (s *Store) writeOnce(ctx context.Context, fn func(tx service.Tx) error) error {
	conn, err := s.pool.Acquire(ctx)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	defer conn.Release()
	t, err := begin(ctx, conn)
	defer t.rollback(ctx) // also when fn panics
	if err != nil {
		return err
	}
	if err := fn(t); err != nil {
		return err
	}
	return t.commit(ctx)
}

// A tx implements service.Tx. Rows wait in batch until the commit takes them
// along, or until something must be in the database before.
type tx struct {
	conn      *pgxpool.Conn
	epoch     domain.Epoch
	version   domain.Version
	batch     *pgx.Batch
	records   []service.Record
	added     bool
	restored  bool // added by Restore: what the database refuses is the fault of the export
	committed bool
	err       error // the first error of the database: the transaction is lost
}

// begin starts a transaction and waits for the book's lock.
func begin(ctx context.Context, conn *pgxpool.Conn) (*tx, error) {
	t := &tx{conn: conn, batch: &pgx.Batch{}}
	var open pgx.Batch
	open.BeginTx(pgx.TxOptions{IsoLevel: pgx.ReadCommitted})
	open.Queue(selectNewest + ` FOR UPDATE`).QueryRow(func(row pgx.Row) error { return row.Scan(&t.epoch, &t.version) })
	if err := conn.SendBatch(ctx, &open).Close(); err != nil {
		return t, fmt.Errorf("take the lock of the book: %w", err)
	}
	return t, nil
}

// Version implements service.Tx.
func (t *tx) Version() domain.Version { return t.version }

// Epoch implements service.Tx.
func (t *tx) Epoch() domain.Epoch { return t.epoch }

// flush sends the rows that wait.
func (t *tx) flush(ctx context.Context) error {
	if t.err != nil {
		return t.err
	}
	if t.batch.Len() == 0 {
		return nil
	}
	err := t.conn.SendBatch(ctx, t.batch).Close()
	t.batch = &pgx.Batch{}
	return t.failed(err)
}

// failed notes and interprets what the database answered.
func (t *tx) failed(err error) error {
	if err == nil {
		return nil
	}
	err = fmt.Errorf("write the book: %w", err)
	if t.restored {
		t.err = interpretRestore(err)
	} else {
		t.err = interpret(err)
	}
	return t.err
}

// commit sends what waits, the new version and the commit in one round trip.
func (t *tx) commit(ctx context.Context) error {
	if t.added {
		t.batch.Queue(`UPDATE book SET epoch = $1, version = $2`, t.epoch, t.next())
		t.batch.Queue(`SELECT pg_notify('book', $1)`, notice(domain.Point{Epoch: t.epoch, Version: t.next()}))
	}
	t.queueRecords()
	t.batch.Queue(`COMMIT`).Exec(func(tag pgconn.CommandTag) error {
		if tag.String() != "COMMIT" { // Postgres answers the commit of a failed transaction so
			return fmt.Errorf("the transaction ended in %s", tag)
		}
		t.committed = true
		return nil
	})
	return t.flush(ctx)
}

// rollback gives up what was not committed.
func (t *tx) rollback(ctx context.Context) {
	if t.committed || t.conn.Conn().IsClosed() {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), rollbackTimeout)
	defer cancel()
	// If it fails the pool closes the connection, because it is still in a
	// transaction, and that rolls back.
	_, _ = t.conn.Exec(ctx, `ROLLBACK`)
}

// next is the version that the transaction makes.
func (t *tx) next() domain.Version { return t.version + 1 }

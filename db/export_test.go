package db

import (
	"context"
	"time"

	"delaybook/domain/service"
)

// SetLookAgain makes Watch look at a silent connection more often.
func (s *Store) SetLookAgain(d time.Duration) { s.lookAgain = d }

// WriteWithUnseenFailure is a write in which a statement fails and nobody looks.
func (s *Store) WriteWithUnseenFailure(ctx context.Context) error {
	return s.Write(ctx, func(inside service.Tx) error {
		_, _ = inside.(*tx).conn.Exec(ctx, `SELECT 1/0`)
		return nil
	})
}

// NewConns returns how many connections the pool has made.
func (s *Store) NewConns() int64 { return s.pool.Stat().NewConnsCount() }

// CountJobs counts the jobs of the queue, whatever became of them.
func (s *Store) CountJobs(ctx context.Context) (n int, err error) {
	err = s.pool.QueryRow(ctx, `SELECT count(*) FROM jobs.river_job`).Scan(&n)
	return n, err
}

// Exec changes what no method does, such as the queue of a process that was killed.
func (s *Store) Exec(ctx context.Context, sql string, args ...any) error {
	_, err := s.pool.Exec(ctx, sql, args...)
	return err
}

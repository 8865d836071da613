package migrations

import (
	"context"
	"fmt"
	"log/slog"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"
)

// JobsSchema is the schema of the tables of the job queue.
const JobsSchema = "jobs"

// jobsLock is the key of the advisory lock under which the queue's own
// migrations run. They take none themselves: of four programs that ran them at
// once three failed with a duplicate type.
const jobsLock = 0x64_62_6a_6f_62 // "dbjob"

// upJobs brings the tables of the job queue to the form that this program's
// version of the queue wants.
func upJobs(ctx context.Context, url string) error {
	config, err := pgxpool.ParseConfig(url)
	if err != nil {
		return fmt.Errorf("read the address of the database: %w", err)
	}
	config.MaxConns = 2 // one holds the lock
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	defer pool.Close()
	lock, err := pool.Acquire(ctx)
	if err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	defer lock.Release() // the lock goes with the connection, which the pool closes
	if _, err := lock.Exec(ctx, `SELECT pg_advisory_lock($1)`, jobsLock); err != nil {
		return fmt.Errorf("wait for others who migrate the job queue: %w", err)
	}
	migrator, err := rivermigrate.New(riverpgxv5.New(pool), &rivermigrate.Config{Schema: JobsSchema, Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return fmt.Errorf("prepare the migrations of the job queue: %w", err)
	}
	if _, err := migrator.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return fmt.Errorf("migrate the job queue: %w", err)
	}
	return nil
}

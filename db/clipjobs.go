package db

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivertype"
)

// jobsSchema is the schema of the job queue; package migrations makes it.
const jobsSchema = "jobs"

// How the queue deals with jobs. An analysis ends itself before jobTime, and
// says itself whether it lives; the rescue of the queue, by age alone, is for
// what that misses.
const (
	jobTime     = 30 * time.Minute
	rescueAfter = jobTime + 5*time.Minute
	jobAttempts = 5 // each is free of effect if the one before had one
	stopTime    = 5 * time.Second
	takenFor    = 15 * time.Second // from taking a job to saying so in the clip; it takes milliseconds
)

// clipJob are the arguments of a job: one attempt at the analysis of a clip.
type clipJob struct {
	Clip    uuid.UUID `json:"clip"`
	Attempt int       `json:"attempt"`
}

// Kind implements river.JobArgs.
func (clipJob) Kind() string { return "clip" }

// clipQueue names the queue of the host that has the files.
func clipQueue(host uuid.UUID) string { return "clips-" + host.String() }

// AddClip implements service.ClipStore.
func (s *Store) AddClip(ctx context.Context, c *service.Clip) error {
	args, err := clipValues(c)
	if err != nil {
		return err
	}
	return s.inTx(ctx, func(t pgx.Tx) error {
		if _, err := t.Exec(ctx, `INSERT INTO clips (`+clipColumns+`) VALUES (`+clipPlaces+`)`, args); err != nil {
			return interpret(fmt.Errorf("store a clip: %w", err))
		}
		return s.enqueue(ctx, t, c, 0)
	})
}

// ChangeClip implements service.ClipStore.
func (s *Store) ChangeClip(ctx context.Context, id domain.ClipID, fn func(*service.Clip) error) (c *service.Clip, err error) {
	err = s.inTx(ctx, func(t pgx.Tx) error {
		var before int
		if c, before, err = changeClip(ctx, t, id, fn); err != nil {
			return err
		}
		return s.enqueue(ctx, t, c, before)
	})
	if errors.Is(err, errNoClip) {
		return nil, nil
	}
	return c, err
}

func (s *Store) inTx(ctx context.Context, fn func(pgx.Tx) error) error {
	err := pgx.BeginFunc(ctx, s.pool, fn)
	if errors.Is(err, pgx.ErrTxCommitRollback) {
		return fmt.Errorf("change a clip: %w", err)
	}
	return err
}

// enqueue adds the job of a clip that waits for another attempt than before.
func (s *Store) enqueue(ctx context.Context, t pgx.Tx, c *service.Clip, before int) error {
	if c.State != service.ClipQueued || c.Attempt == before {
		return nil
	}
	_, err := s.jobs.InsertTx(ctx, t, clipJob{c.ID.UUID, c.Attempt}, &river.InsertOpts{
		Queue: clipQueue(c.Host), MaxAttempts: jobAttempts, UniqueOpts: river.UniqueOpts{ByArgs: true},
	})
	if err != nil {
		return fmt.Errorf("queue clip %s: %w", c.ID, err)
	}
	return nil
}

// quiet is the log of the queue: what matters of a job is in its clip.
func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

type clipWorker struct {
	river.WorkerDefaults[clipJob]
	work func(ctx context.Context, id domain.ClipID, attempt int) error
}

// Work implements river.Worker.
func (w *clipWorker) Work(ctx context.Context, job *river.Job[clipJob]) error {
	return w.work(ctx, domain.ClipID{UUID: job.Args.Clip}, job.Args.Attempt)
}

// WorkClips implements service.ClipStore. It runs as many jobs at once as there
// are cores, since decoding is all computation.
func (s *Store) WorkClips(
	ctx context.Context, host uuid.UUID, work func(ctx context.Context, id domain.ClipID, attempt int) error,
) error {
	workers := river.NewWorkers()
	river.AddWorker(workers, &clipWorker{work: work})
	jobs, err := river.NewClient(riverpgxv5.New(s.pool), &river.Config{
		Schema: jobsSchema, Logger: quiet(), Workers: workers,
		Queues:     map[string]river.QueueConfig{clipQueue(host): {MaxWorkers: runtime.GOMAXPROCS(0)}},
		JobTimeout: jobTime, RescueStuckJobsAfter: rescueAfter,
		RetryPolicy: soon{},
	})
	if err != nil {
		return fmt.Errorf("prepare the job queue: %w", err)
	}
	if err := jobs.Start(context.WithoutCancel(ctx)); err != nil {
		return fmt.Errorf("start the job queue: %w", err)
	}
	<-ctx.Done()
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer cancel()
	if err := jobs.StopAndCancel(last); err != nil {
		return fmt.Errorf("stop the job queue: %w", err)
	}
	return nil
}

// soon is when a job that failed is tried again: it fails because the service
// stopped or the database did not answer.
type soon struct{}

// NextRetry implements river.ClientRetryPolicy.
func (soon) NextRetry(job *rivertype.JobRow) time.Time {
	return job.AttemptedAt.Add(time.Duration(job.Attempt) * time.Second)
}

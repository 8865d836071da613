package service

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"delaybook/domain"
	"delaybook/domain/recording"
)

// Work analyses the clips whose recordings are on this machine, and tidies up,
// until ctx ends. It may be called once.
func (c *Clips) Work(ctx context.Context) error {
	context.AfterFunc(ctx, func() { close(c.ending) })
	var tidying sync.WaitGroup
	defer tidying.Wait()
	tidying.Go(func() { c.keepTidy(ctx) })
	return c.Store.WorkClips(ctx, c.Files.Host(), c.analyse)
}

var (
	errUnwanted = errors.New("the analysis is no longer wanted")
	errTooLong  = errors.New("the analysis took too long")
)

// analyse runs one attempt of an analysis. It may be called again for the same
// one, after a crash: whoever comes first ends it.
func (c *Clips) analyse(ctx context.Context, id domain.ClipID, attempt int) error {
	clip, err := c.Store.ChangeClip(ctx, id, func(clip *Clip) error {
		if clip.Attempt != attempt || !clip.State.Running() {
			return errUnwanted
		}
		now := c.service.now()
		clip.State, clip.StartedAt, clip.BeatAt, clip.Progress = ClipAnalysing, &now, &now, 0
		return nil
	})
	if errors.Is(err, errUnwanted) || err == nil && clip == nil {
		return nil
	}
	if err != nil {
		return err
	}
	result, err := c.watched(ctx, clip)
	switch {
	case errors.Is(err, errUnwanted):
		return nil
	case errors.Is(err, errTooLong):
		result, err = recording.Result{Method: clip.Options.Method, Refused: tooLong}, nil
	case ctx.Err() != nil:
		return context.Cause(ctx) // the service stops: the job is taken up again
	}
	if err != nil {
		c.service.log.ErrorContext(ctx, "analyse a clip", "clip", id, "attempt", attempt, "err", err)
	}
	return c.end(ctx, id, attempt, result, err)
}

var tooLong = &recording.Refusal{
	Code: recording.TimedOut, Text: "Decoding the recording took longer than is allowed.",
	Try: "Send a shorter part of it, or the same at a smaller size.",
}

// watched runs the analysis of a clip, says now and then how far it is, and
// breaks it off when nobody wants it any more.
func (c *Clips) watched(ctx context.Context, clip *Clip) (recording.Result, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	ctx, stop := context.WithTimeoutCause(ctx, c.Longest, errTooLong)
	defer stop()
	var mu sync.Mutex
	var latest Progress
	var beats sync.WaitGroup
	done := make(chan struct{})
	beats.Go(func() {
		ticker := time.NewTicker(c.Beat)
		defer ticker.Stop()
		for {
			select {
			case <-done:
				return
			case <-ticker.C:
			}
			mu.Lock()
			p := latest
			mu.Unlock()
			wanted, err := c.Store.Beat(ctx, clip.ID, clip.Attempt, c.service.now(), min(max(p.Done, 0), 1), seconds(p.Estimate))
			if err == nil && !wanted {
				cancel(errUnwanted)
			}
		}
	})
	result, err := c.Analyst.Analyse(ctx, c.request(clip), func(p Progress) {
		mu.Lock()
		defer mu.Unlock()
		latest = p
	})
	close(done)
	beats.Wait()
	if cause := context.Cause(ctx); cause != nil && err != nil {
		err = cause
	}
	return result, err
}

func seconds(d time.Duration) *float64 {
	if d <= 0 {
		return nil
	}
	s := d.Seconds()
	return &s
}

// end stores what an attempt came to.
func (c *Clips) end(ctx context.Context, id domain.ClipID, attempt int, result recording.Result, failed error) error {
	_, err := c.Store.ChangeClip(ctx, id, func(clip *Clip) error {
		if clip.Attempt != attempt || clip.State != ClipAnalysing {
			return errUnwanted
		}
		now := c.service.now()
		clip.EndedAt, clip.Progress, clip.Result, clip.Evidence = &now, 1, nil, nil
		if failed != nil {
			clip.State, clip.Failure = ClipFailed, failure(failed)
			return nil
		}
		clip.State, clip.Result, clip.Evidence = ClipDone, &result, result.Evidence
		if result.Refused != nil {
			clip.State = ClipRefused
		}
		return nil
	})
	if errors.Is(err, errUnwanted) {
		return nil
	}
	return err
}

// failure says to people why an analysis broke off.
func failure(err error) string {
	if e, ok := errors.AsType[*domain.Error](err); ok && e.Code != domain.Internal {
		return e.Message
	}
	return "The analysis broke off; the log of the service says why. Try it again, or step the recording by eye."
}

const (
	tidyPause   = 5 // beats between two rounds
	silentBeats = 8
	uploadAge   = 24 * time.Hour // that an upload may pause
	orphanAge   = time.Hour      // an upload that is this old and became no clip never will
)

func (c *Clips) keepTidy(ctx context.Context) {
	ticker := time.NewTicker(tidyPause * c.Beat)
	defer ticker.Stop()
	for {
		if err := c.Tidy(ctx); err != nil && ctx.Err() == nil {
			c.service.log.ErrorContext(ctx, "tidy up recordings", "err", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
	}
}

// Tidy queues again what a process that ended was analysing, and deletes the
// recordings of this machine that need not be kept.
func (c *Clips) Tidy(ctx context.Context) error {
	now := c.service.now()
	return errors.Join(c.revive(ctx, now.Add(-silentBeats*c.Beat)), c.expire(ctx, now), c.sweep(ctx, now.Add(-orphanAge)), c.Files.ExpireUploads(now.Add(-uploadAge)))
}

func (c *Clips) revive(ctx context.Context, silentSince time.Time) error {
	stalled, err := c.Store.Stalled(ctx, silentSince)
	for _, id := range stalled {
		_, failed := c.Store.ChangeClip(ctx, id, func(clip *Clip) error {
			silent := clip.State == ClipAnalysing && clip.BeatAt.Before(silentSince)
			if !silent && clip.State != ClipQueued {
				return errUnwanted
			}
			clip.queue(c.service.now())
			return nil
		})
		if failed != nil && !errors.Is(failed, errUnwanted) {
			err = errors.Join(err, fmt.Errorf("queue clip %s again: %w", id, failed))
		}
	}
	return err
}

func (c *Clips) expire(ctx context.Context, now time.Time) error {
	expired, err := c.Store.Expired(ctx, c.Files.Host(), now)
	for _, id := range expired {
		_, failed := c.Store.ChangeClip(ctx, id, func(clip *Clip) error {
			clip.Kept = false
			if clip.State.Running() {
				clip.State, clip.EndedAt = ClipCancelled, &now
			}
			return c.Files.Remove(id)
		})
		if failed != nil {
			err = errors.Join(err, fmt.Errorf("delete the recording of clip %s: %w", id, failed))
		}
	}
	return err
}

// sweep deletes folders of uploads that became no clip.
func (c *Clips) sweep(ctx context.Context, before time.Time) error {
	folders, err := c.Files.Folders(before)
	for _, id := range folders {
		clip, failed := c.Store.Clip(ctx, id)
		if failed == nil && (clip == nil || !clip.Kept) {
			failed = c.Files.Remove(id)
		}
		err = errors.Join(err, failed)
	}
	return err
}

package service

import (
	"context"
	"fmt"
	"time"
)

const (
	lookEvery    = 300 * time.Millisecond // at a clip that is being watched: a query by primary key
	silenceShort = 15 * time.Second       // after which a watcher is told that nothing changed
)

// Mark names what a watcher saw last of a clip: equal marks, nothing new.
func (v ClipView) Mark() string {
	return fmt.Sprintf("%d-%d-%d", v.Row, v.Attempt, int(v.Progress*1000))
}

// WatchClip calls changed with the clip whenever it is another than the mark
// says, and quiet while it stays, until it does not change by itself any more,
// ctx or the service ends or one of the two returns an error.
func (c *Clips) WatchClip(ctx context.Context, r Request, id, mark string, changed func(ClipView) error, quiet func() error) error {
	ticker := time.NewTicker(lookEvery)
	defer ticker.Stop()
	for silent := time.Duration(0); ; silent += lookEvery {
		v, err := c.Clip(ctx, r, id)
		if err != nil {
			return err
		}
		if now := v.Mark(); now != mark {
			mark, silent = now, 0
			if err := changed(v); err != nil {
				return err
			}
		}
		if !v.State.Running() {
			return nil
		}
		if silent >= silenceShort {
			silent = 0
			if err := quiet(); err != nil {
				return err
			}
		}
		select {
		case <-ctx.Done():
			return nil
		case <-c.ending:
			return nil
		case <-ticker.C:
		}
	}
}

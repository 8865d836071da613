package pglaunch

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"time"
)

// takeOver clears away what a dead owner left: a running server, workers
// without a server, and files that would stop a new one. The caller owns the
// folder, so that any server in it is an orphan.
//
// PostgreSQL alone refuses to start in two cases that happen in practice: the
// number in its pid file has gone to another process of the same user, or the
// old server is a zombie because process 1 of a container does not reap.
func takeOver(ctx context.Context, o Options, _ account) error {
	l := layout{o.Dir}
	left, err := serversIn(l.data())
	if err != nil {
		return err
	}
	steps := endings
	if len(left) > 0 {
		o.Logger.Warn("stopping the server of an owner that died", "dir", o.Dir, "processes", left)
		if server := l.recordedPID(); !slices.Contains(left, server) {
			steps = endings[1:] // workers that lost their server only know SIGQUIT
		} else {
			left = []int{server}
		}
	}
	for _, e := range steps {
		if len(left) == 0 {
			break
		}
		for _, pid := range left {
			send(pid, e.signal)
		}
		if left, err = waitEmpty(ctx, l.data(), e.wait); err != nil {
			return err
		}
	}
	if len(left) > 0 {
		return fmt.Errorf("processes %v of an earlier server in %s do not end; end them by hand", left, o.Dir)
	}
	return l.removeStale()
}

// removeStale removes files that only a running server should have.
func (l layout) removeStale() error {
	socket := filepath.Join(l.run(), ".s.PGSQL."+socketPort)
	for _, path := range []string{l.pidFile(), socket, socket + ".lock"} {
		if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("clear up after an earlier server: %w", err)
		}
	}
	return nil
}

// waitEmpty waits until no server works in the folder and returns who is left.
func waitEmpty(ctx context.Context, folder string, most time.Duration) ([]int, error) {
	ctx, cancel := context.WithTimeout(ctx, most)
	defer cancel()
	for {
		left, err := serversIn(folder)
		if err != nil || len(left) == 0 {
			return nil, err
		}
		if pause(ctx, 10*time.Millisecond) != nil {
			return left, nil
		}
	}
}

// killUnborn ends what is left of an initdb whose owner died.
func killUnborn(ctx context.Context, l layout) error {
	left, err := serversIn(l.unborn())
	if err != nil {
		return err
	}
	for _, pid := range left {
		send(pid, syscall.SIGKILL)
	}
	if left, err = waitEmpty(ctx, l.unborn(), 10*time.Second); err != nil {
		return err
	}
	if len(left) > 0 {
		return fmt.Errorf("processes %v still write to %s; end them by hand", left, l.unborn())
	}
	return nil
}

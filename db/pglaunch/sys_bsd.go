//go:build unix && !linux && !aix && !solaris

package pglaunch

import (
	"context"
	"errors"
	"fmt"
	"os"
	"syscall"
	"time"
)

// setDeathSignal does nothing: only Linux can tie a child's life to ours. The
// next owner takes an orphaned server over.
func setDeathSignal(*syscall.SysProcAttr, syscall.Signal) {}

// takeOver stops a server that a dead owner left behind. It is ours if it
// answers on our socket to our password. PostgreSQL itself copes with the pid
// file of a dead one.
func takeOver(ctx context.Context, o Options, _ account) error {
	l := layout{o.Dir}
	pid := l.recordedPID()
	c, err := stored(o)
	if pid == 0 || err != nil || c.ping(ctx) != nil {
		return nil
	}
	o.Logger.Warn("stopping the server of an owner that died", "dir", o.Dir, "pid", pid)
	for _, e := range endings {
		send(pid, e.signal)
		waitCtx, cancel := context.WithTimeout(ctx, e.wait)
		for alive(pid) && pause(waitCtx, 20*time.Millisecond) == nil {
		}
		cancel()
		if !alive(pid) {
			return nil
		}
	}
	return fmt.Errorf("a server (process %d) that a dead owner left in %s does not end; end it by hand", pid, o.Dir)
}

func alive(pid int) bool {
	p, err := os.FindProcess(pid)
	return err == nil && !errors.Is(p.Signal(syscall.Signal(0)), os.ErrProcessDone)
}

// killUnborn does nothing: an initdb without its parent ends by itself.
func killUnborn(context.Context, layout) error { return nil }

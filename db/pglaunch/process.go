package pglaunch

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"runtime"
	"syscall"
)

// A process is a child that lives no longer than this process, on Linux.
type process struct {
	pid    int
	exited chan struct{} // closed when it has ended
	err    error         // how; to be read after exited
}

// start runs cmd. A death signal fires when the *thread* that started the
// child ends, so that a goroutine keeps one for it.
func start(cmd *exec.Cmd) (*process, error) {
	p := &process{exited: make(chan struct{})}
	started := make(chan error, 1)
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		if err == nil {
			p.pid = cmd.Process.Pid
		}
		started <- err
		if err == nil {
			p.err = cmd.Wait()
			close(p.exited)
		}
	}()
	if err := <-started; err != nil {
		return nil, err
	}
	return p, nil
}

// state says how the process ended, which for a server is an error in itself.
func (p *process) state() error {
	<-p.exited
	if p.err == nil {
		return errors.New("exit status 0")
	}
	return p.err
}

// end stops a server, by force if need be, and waits until it has gone.
func (p *process) end() error {
	for _, e := range endings {
		send(p.pid, e.signal)
		ctx, cancel := context.WithTimeout(context.Background(), e.wait)
		select {
		case <-p.exited:
			cancel()
			return nil
		case <-ctx.Done():
			cancel()
		}
	}
	return errors.New("it does not end")
}

// send signals a process. That it may have gone is not an error: the callers
// wait for that.
func send(pid int, sig syscall.Signal) {
	if p, err := os.FindProcess(pid); err == nil {
		_ = p.Signal(sig)
	}
}

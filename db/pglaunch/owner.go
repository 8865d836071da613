package pglaunch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"time"
)

// An ownership is the lock on a data folder. The system drops it when the
// process ends, however it ends. Servers do not inherit it: Go opens files
// close-on-exec.
type ownership struct{ file *os.File }

// Attach takes the lock for an instant to see whether it is free. An owner to
// be must not mistake that for an owner.
const (
	lockTries = 4
	lockPause = 50 * time.Millisecond
)

// claim checks the folder, makes it if needed, and locks it.
func claim(ctx context.Context, o Options) (*ownership, account, error) {
	if !supported {
		return nil, account{}, ErrUnsupported
	}
	l := layout{o.Dir}
	if err := l.checkMark(o.Volatile); err != nil {
		return nil, account{}, err
	}
	acct, err := chooseAccount(l.data())
	if err != nil {
		return nil, account{}, err
	}
	if err := l.makeDir(acct); err != nil {
		return nil, account{}, err
	}
	own, err := acquire(ctx, l, o.Program)
	if err != nil {
		return nil, account{}, err
	}
	// Looked at again because the folder was not ours before.
	if err := l.checkMark(o.Volatile); err != nil {
		return nil, account{}, errors.Join(err, own.release())
	}
	return own, acct, nil
}

// makeDir makes the data folder. The server's account must pass through it.
func (l layout) makeDir(acct account) error {
	if err := acct.canReach(l.dir); err != nil {
		return err
	}
	if err := os.MkdirAll(l.dir, 0o700); err != nil {
		return fmt.Errorf("make the data folder: %w", err)
	}
	if !acct.drop {
		return nil
	}
	// Only a folder of our own is opened: it may be somebody's home.
	entries, err := os.ReadDir(l.dir)
	if err != nil {
		return fmt.Errorf("look into the data folder: %w", err)
	}
	_, err = os.Stat(l.lock())
	if len(entries) == 0 || err == nil {
		if err := os.Chmod(l.dir, 0o711); err != nil {
			return fmt.Errorf("let the server's account into the data folder: %w", err)
		}
	}
	return acct.mayPass(l.dir)
}

// acquire locks the folder and signs the lock, or returns an *OwnedError.
func acquire(ctx context.Context, l layout, program string) (*ownership, error) {
	f, err := os.OpenFile(l.lock(), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fmt.Errorf("lock the data folder: %w", err)
	}
	for try := range lockTries {
		if try > 0 {
			if err := pause(ctx, lockPause); err != nil {
				return nil, errors.Join(err, f.Close())
			}
		}
		got, err := tryLock(f)
		if err != nil {
			return nil, errors.Join(fmt.Errorf("lock the data folder: %w", err), f.Close())
		}
		if got {
			own := &ownership{f}
			return own, own.sign(program)
		}
	}
	return nil, errors.Join(ownedBy(l, f), f.Close())
}

func (own *ownership) sign(program string) error {
	err := own.file.Truncate(0)
	if err == nil {
		_, err = own.file.WriteAt(fmt.Appendf(nil, "%d %s\n", os.Getpid(), program), 0)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("sign the lock of the data folder: %w", err), own.file.Close())
	}
	return nil
}

// release gives the folder up. The file stays: removing it could leave two
// owners, each with a lock on a file of that name.
func (own *ownership) release() error {
	if err := errors.Join(own.file.Truncate(0), own.file.Close()); err != nil {
		return fmt.Errorf("unlock the data folder: %w", err)
	}
	return nil
}

func ownedBy(l layout, f io.ReaderAt) error {
	owned := &OwnedError{Dir: l.dir, Program: "another process"}
	raw, err := io.ReadAll(io.NewSectionReader(f, 0, 1024))
	if err != nil {
		return owned
	}
	pid, program, _ := strings.Cut(strings.TrimSpace(string(raw)), " ")
	if n, err := strconv.Atoi(pid); err == nil {
		owned.PID, owned.Program = n, orElse(program, owned.Program)
	}
	return owned
}

// isOwned looks whether any process owns the folder.
func isOwned(l layout) (bool, error) {
	f, err := os.OpenFile(l.lock(), os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("look at the lock of the data folder: %w", err)
	}
	free, err := tryLock(f)
	if err := errors.Join(err, f.Close()); err != nil {
		return false, fmt.Errorf("look at the lock of the data folder: %w", err)
	}
	return !free, nil
}

// pause waits for d or for the end of ctx.
func pause(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return context.Cause(ctx)
	case <-t.C:
		return nil
	}
}

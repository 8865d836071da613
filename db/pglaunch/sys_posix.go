//go:build unix && !aix && !solaris

package pglaunch

import (
	"errors"
	"io/fs"
	"os"
	"syscall"
)

// supported: a server can be run on this system.
const supported = true

// tryLock takes the lock on f without waiting. It belongs to f's open file, so
// it also excludes a second taker in the same process.
func tryLock(f *os.File) (bool, error) {
	for {
		err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		switch {
		case err == nil:
			return true, nil
		case errors.Is(err, syscall.EWOULDBLOCK):
			return false, nil
		case !errors.Is(err, syscall.EINTR):
			return false, err
		}
	}
}

func ownerOf(info fs.FileInfo) (uid, gid int) {
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return -1, -1
	}
	return int(st.Uid), int(st.Gid)
}

// attributes runs a child as the account, in a process group of its own: a
// Ctrl-C in the terminal is for us, and we stop the server in order. onDeath
// is what the kernel sends it when we die, where it can.
func (a account) attributes(onDeath syscall.Signal) *syscall.SysProcAttr {
	attr := &syscall.SysProcAttr{Setpgid: true}
	if a.drop {
		attr.Credential = &syscall.Credential{Uid: uint32(a.uid), Gid: uint32(a.gid)}
	}
	setDeathSignal(attr, onDeath)
	return attr
}

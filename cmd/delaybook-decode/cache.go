// SPDX-License-Identifier: GPL-3.0-or-later

package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// openCache makes the folder of compiled code, or verifies that it is one that nobody else can have written: what is
// in it is run. It holds a lock in it until release, so that of several processes one compiles and the others find it
// done.
func openCache(folder string) (release func(), err error) {
	if !filepath.IsAbs(folder) {
		return nil, &usageError{fmt.Sprintf("give --cache as an absolute path, not %q", folder)}
	}
	if err := os.MkdirAll(filepath.Dir(folder), 0o755); err != nil {
		return nil, fmt.Errorf("make the cache folder: %w", err)
	}
	if err := os.Mkdir(folder, 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("make the cache folder: %w", err)
	}
	if err := verifyCache(folder); err != nil {
		return nil, err
	}
	lock, err := os.OpenFile(filepath.Join(folder, "lock"), os.O_RDWR|os.O_CREATE|syscall.O_NOFOLLOW, 0o600)
	if err != nil {
		return nil, fmt.Errorf("lock the cache folder: %w", err)
	}
	if err := syscall.Flock(int(lock.Fd()), syscall.LOCK_EX); err != nil {
		return nil, errors.Join(fmt.Errorf("lock the cache folder: %w", err), lock.Close())
	}
	return func() { _ = lock.Close() }, nil // closing gives the lock back
}

func verifyCache(folder string) error {
	info, err := os.Lstat(folder)
	if err != nil {
		return fmt.Errorf("look at the cache folder: %w", err)
	}
	const instead = "name a folder of your own that only you can open (chmod 700), or one that does not exist yet"
	if !info.IsDir() {
		return fmt.Errorf("the cache %s is no folder: %s", folder, instead)
	}
	if owner, ok := info.Sys().(*syscall.Stat_t); !ok || int(owner.Uid) != os.Geteuid() {
		return fmt.Errorf("the cache folder %s belongs to another user, who could put code into it: %s", folder, instead)
	}
	if mode := info.Mode().Perm(); mode&0o077 != 0 {
		return fmt.Errorf("the cache folder %s is open to other users (%#o), who could put code into it: %s", folder, mode, instead)
	}
	return nil
}

// limitCPU makes the kernel end this process after so many seconds of processor time. Soft and hard are equal
// because the Go runtime ignores the signal of the soft one.
func limitCPU(seconds uint64) error {
	limit := syscall.Rlimit{Cur: seconds, Max: seconds}
	if err := syscall.Setrlimit(syscall.RLIMIT_CPU, &limit); err != nil {
		return fmt.Errorf("limit the processor time: %w", err)
	}
	return nil
}

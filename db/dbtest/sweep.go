package dbtest

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"

	"delaybook/db/pglaunch"
)

// folderPrefix comes before the process id of the run in the name of its
// folder.
const folderPrefix = "delaybook-dbtest-"

// sweep removes the folders of runs that were killed. It does what it can:
// they may be another user's, or another sweeper's by now.
func sweep(ctx context.Context, base string) {
	folders, err := filepath.Glob(filepath.Join(base, folderPrefix+"*"))
	if err != nil {
		return
	}
	for _, dir := range folders {
		pid, _, _ := strings.Cut(strings.TrimPrefix(filepath.Base(dir), folderPrefix), "-")
		n, err := strconv.Atoi(pid)
		if err != nil || alive(n) {
			continue
		}
		err = pglaunch.RemoveVolatile(ctx, dir)
		if _, unmarked := errors.AsType[*pglaunch.FolderError](err); unmarked {
			_ = os.RemoveAll(dir) // killed before there was a server
		}
	}
}

// alive: in doubt (another user's process) it is.
func alive(pid int) bool {
	p, err := os.FindProcess(pid)
	return err == nil && !errors.Is(p.Signal(syscall.Signal(0)), os.ErrProcessDone)
}

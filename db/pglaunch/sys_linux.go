package pglaunch

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

func setDeathSignal(attr *syscall.SysProcAttr, sig syscall.Signal) { attr.Pdeathsig = sig }

// serversIn lists the server processes that work in a folder: every process of
// a server, and of an initdb, has the cluster as its working directory. Unlike
// a pid file this cannot be stale, and unlike a pid it cannot name a stranger
// or a zombie.
func serversIn(folder string) ([]int, error) {
	folder, err := filepath.EvalSymlinks(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("look for servers: %w", err)
	}
	entries, err := os.ReadDir("/proc")
	if err != nil {
		return nil, fmt.Errorf("look for servers: %w", err)
	}
	var pids []int
	for _, e := range entries {
		pid, err := strconv.Atoi(e.Name())
		if err != nil {
			continue
		}
		// Errors are processes that have gone, zombies, and other people's.
		cwd, err := os.Readlink(filepath.Join("/proc", e.Name(), "cwd"))
		if err != nil || cwd != folder {
			continue
		}
		// A person's shell may stand here as well.
		comm, err := os.ReadFile(filepath.Join("/proc", e.Name(), "comm"))
		if err == nil && strings.HasPrefix(string(comm), "post") {
			pids = append(pids, pid)
		}
	}
	return pids, nil
}

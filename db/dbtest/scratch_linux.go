package dbtest

import (
	"os"
	"syscall"
)

// scratchBase is in memory if there is room for a server and some hundred
// databases of 8 MB. A container's /dev/shm has 64 MB unless told otherwise.
func scratchBase() string {
	const memory, enough = "/dev/shm", 2 << 30 // bytes
	var fs syscall.Statfs_t
	if err := syscall.Statfs(memory, &fs); err == nil && fs.Bavail*uint64(fs.Bsize) >= enough {
		return memory
	}
	return os.TempDir()
}

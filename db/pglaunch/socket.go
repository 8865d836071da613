package pglaunch

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

const (
	socketPort = "5432"

	// maxSocketFolder leaves room in the 104 bytes (macOS; Linux has 108) of a
	// socket address for the file name and the final zero byte.
	maxSocketFolder = 104 - len("/.s.PGSQL."+socketPort+".lock") - 1
)

// makeSocketFolder makes run/ and returns where it is. When the path is too
// long for a socket, run is a link to a folder with a short path.
func (l layout) makeSocketFolder(acct account) (string, error) {
	folder := l.run()
	if !fitsSocket(folder) {
		folder = l.shortRun()
		if err := acct.canReach(folder); err != nil {
			return "", err
		}
	}
	if err := acct.makePrivate(folder); err != nil {
		return "", err
	}
	if folder == l.run() {
		return folder, nil
	}
	if err := os.Remove(l.run()); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("link the socket folder: %w", err)
	}
	if err := os.Symlink(folder, l.run()); err != nil {
		return "", fmt.Errorf("link the socket folder: %w", err)
	}
	return folder, nil
}

// fitsSocket: clients split hosts at commas, and the server's list has quotes.
func fitsSocket(folder string) bool {
	return len(folder) <= maxSocketFolder && !strings.ContainsAny(folder, "\",")
}

// makePrivate makes a folder for the account alone. One that is there already
// must be just that: in a shared place somebody else may have put it there.
func (a account) makePrivate(folder string) error {
	err := os.Mkdir(folder, 0o700)
	if err == nil {
		return a.give(folder)
	}
	if !errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("make the socket folder: %w", err)
	}
	info, err := os.Lstat(folder)
	if err != nil {
		return fmt.Errorf("look at the socket folder: %w", err)
	}
	if uid, _ := ownerOf(info); !info.IsDir() || uid != a.uid || info.Mode().Perm() != 0o700 {
		return &FolderError{folder, fmt.Sprintf("is to hold the database's socket, and is not a folder of user %s with mode 0700; remove it", a.name)}
	}
	return nil
}

// shortRun is the same for every process that uses the folder, if TMPDIR is;
// clients read the link instead.
func (l layout) shortRun() string {
	return filepath.Join(os.TempDir(), "delaybook-"+shortHash(l.dir))
}

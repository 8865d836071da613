package pglaunch_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"delaybook/db/pglaunch"
)

// mustBeFolderError checks which folder an error blames, and for what.
func mustBeFolderError(t *testing.T, err error, folder, reason string) {
	t.Helper()
	fault, ok := errors.AsType[*pglaunch.FolderError](err)
	if !ok {
		t.Fatalf("got %v, want a FolderError", err)
	}
	if fault.Folder != folder || !strings.Contains(fault.Reason, reason) {
		t.Errorf("got %q, want it to name %s and to say %q", fault, folder, reason)
	}
}

func TestClosedParentIsNamed(t *testing.T) {
	t.Parallel()
	if os.Geteuid() != 0 {
		t.Log("only root hands the data to another user; account_test.go has the check itself")
		return
	}
	closed := filepath.Join(openFolder(t), "closed")
	if err := os.Mkdir(closed, 0o700); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(openFolder(t), "link")
	if err := os.Symlink(closed, link); err != nil {
		t.Fatal(err)
	}
	for name, dir := range map[string]string{
		"parent":           filepath.Join(closed, "book"),
		"grandparent":      filepath.Join(closed, "deep", "book"),
		"parent by a link": filepath.Join(link, "book"),
	} {
		t.Run(name, func(t *testing.T) {
			_, err := pglaunch.Start(t.Context(), pglaunch.Options{Dir: dir, Volatile: true})
			mustBeFolderError(t, err, closed, "(mode 0700) cannot be passed by user ")
			mustBeFolderError(t, err, closed, "chmod o+x "+closed)
		})
	}
	if entries, err := os.ReadDir(closed); err != nil || len(entries) > 0 {
		t.Errorf("the refused start left %v (%v)", entries, err)
	}
}

// A folder that already holds something of somebody's is not opened to the
// server's user behind their back.
func TestFolderWithOtherThingsIsNotOpened(t *testing.T) {
	t.Parallel()
	home := filepath.Join(openFolder(t), "home")
	if err := os.Mkdir(home, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(home, "letter"), []byte("dear"), 0o644); err != nil {
		t.Fatal(err)
	}
	c, err := pglaunch.Start(t.Context(), pglaunch.Options{Dir: home, Volatile: true})
	if os.Geteuid() == 0 {
		mustBeFolderError(t, err, home, "cannot be passed by user ")
	} else if err != nil {
		t.Fatal(err)
	} else if err := c.Stop(); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(home)
	if err != nil {
		t.Fatal(err)
	}
	if got := info.Mode().Perm(); got != 0o700 {
		t.Errorf("the folder's mode is now %04o", got)
	}
}

func TestVolatileAndDurableDoNotMix(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	if err := mustStart(t, opts).Stop(); err != nil {
		t.Fatal(err)
	}
	durable := opts
	durable.Volatile = false
	_, err := pglaunch.Start(t.Context(), durable)
	mustBeFolderError(t, err, opts.Dir, "holds a volatile cluster")

	// The same folder without the mark is what a durable start leaves.
	if err := os.Remove(filepath.Join(opts.Dir, "volatile")); err != nil {
		t.Fatal(err)
	}
	_, err = pglaunch.Start(t.Context(), opts)
	mustBeFolderError(t, err, opts.Dir, "holds a durable cluster")
	mustBeFolderError(t, pglaunch.RemoveVolatile(t.Context(), opts.Dir), opts.Dir, "does not hold a volatile cluster")
	c := mustStart(t, durable)
	if got := mustText(t, c.URL(""), `SELECT current_setting('fsync')`); got != "on" {
		t.Errorf("fsync = %s in a durable start", got)
	}
}

func TestRemoveVolatile(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	c := mustStart(t, opts)
	if got := mustText(t, c.URL(""), `SELECT current_setting('fsync')`); got != "off" {
		t.Errorf("fsync = %s in a volatile start", got)
	}
	if _, ok := errors.AsType[*pglaunch.OwnedError](pglaunch.RemoveVolatile(t.Context(), opts.Dir)); !ok {
		t.Error("a folder in use was not refused")
	}
	if err := c.Stop(); err != nil {
		t.Fatal(err)
	}
	if err := pglaunch.RemoveVolatile(t.Context(), opts.Dir); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(opts.Dir); !os.IsNotExist(err) {
		t.Errorf("the folder is still there: %v", err)
	}
}

// What is not a whole cluster is never taken for an empty one.
func TestDamagedFolders(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		files  map[string]string
		folder string // below the data folder
		reason string
	}{
		"files without a version": {map[string]string{"data/base": "x"}, "data", "no PG_VERSION"},
		"unknown version":         {map[string]string{"data/PG_VERSION": "ninety\n"}, "data", `unknown version "ninety"`},
		"lost password":           {map[string]string{"data/PG_VERSION": "MAJOR\n"}, "", "has no file password"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(openFolder(t), "book")
			writeCluster(t, dir, c.files)
			_, err := pglaunch.Start(t.Context(), pglaunch.Options{Dir: dir})
			mustBeFolderError(t, err, filepath.Join(dir, c.folder), c.reason)
			for file := range c.files {
				if _, err := os.Stat(filepath.Join(dir, file)); err != nil {
					t.Errorf("the refused start touched the data: %v", err)
				}
			}
		})
	}
}

// writeCluster makes a data folder by hand. MAJOR stands for the version of
// the machine's programs.
func writeCluster(t *testing.T, dir string, files map[string]string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Join(dir, "data"), 0o711); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "lock"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for file, content := range files {
		if strings.Contains(content, "MAJOR") {
			content = strings.ReplaceAll(content, "MAJOR", installedMajor(t))
		}
		if err := os.WriteFile(filepath.Join(dir, file), []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func TestBadOptions(t *testing.T) {
	t.Parallel()
	for want, opts := range map[string]pglaunch.Options{
		"no data folder given":              {},
		"is not a name for a role":          {Dir: "x", User: strings.Repeat("u", 64)},
		"is not a name for a role or a dat": {Dir: "x", Database: "a\x00b"},
	} {
		if _, err := pglaunch.Start(t.Context(), opts); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Start(%+v) = %v, want %q", opts, err, want)
		}
	}
}

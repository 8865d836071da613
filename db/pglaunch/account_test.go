package pglaunch

import (
	"errors"
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// users stands for the system's list.
func users(known map[string]string) func(string) (*user.User, error) {
	return func(name string) (*user.User, error) {
		uid, ok := known[name]
		if !ok {
			return nil, user.UnknownUserError(name)
		}
		return &user.User{Username: name, Uid: uid, Gid: uid}, nil
	}
}

func TestRootChoosesAnotherUser(t *testing.T) {
	t.Parallel()
	none := filepath.Join(t.TempDir(), "data")
	for name, c := range map[string]struct {
		known map[string]string
		want  account
	}{
		"postgres before nobody": {map[string]string{"postgres": "70", "nobody": "65534"}, account{name: "postgres", uid: 70, gid: 70, drop: true}},
		"nobody":                 {map[string]string{"nobody": "65534"}, account{name: "nobody", uid: 65534, gid: 65534, drop: true}},
		"postgres that is root":  {map[string]string{"postgres": "0", "nobody": "65534"}, account{name: "nobody", uid: 65534, gid: 65534, drop: true}},
	} {
		got, err := chooseAccountFor(0, none, users(c.known))
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if diff := cmp.Diff(c.want, got, cmp.AllowUnexported(account{})); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
	if _, err := chooseAccountFor(0, none, users(nil)); err == nil || !strings.Contains(err.Error(), "refuses to run as root") {
		t.Errorf("without any user: %v", err)
	}
}

// The cluster's files decide, whoever started it first.
func TestOwnerOfTheClusterRunsIt(t *testing.T) {
	t.Parallel()
	data := filepath.Join(t.TempDir(), "data")
	if err := os.Mkdir(data, 0o700); err != nil {
		t.Fatal(err)
	}
	mine := os.Geteuid()
	if mine == 0 {
		mine = 54321 // chosen freely: only root can give a folder away
		if err := os.Chown(data, mine, 54322); err != nil {
			t.Fatal(err)
		}
		got, err := chooseAccountFor(0, data, users(map[string]string{"postgres": "70"}))
		if want := (account{name: "54321", uid: 54321, gid: 54322, drop: true}); err != nil || got != want {
			t.Errorf("root, for a cluster of another user: %+v, %v; want %+v", got, err, want)
		}
	}
	if got, err := chooseAccountFor(mine, data, users(nil)); err != nil || got.uid != mine || got.drop {
		t.Errorf("the owner's own choice: %+v, %v", got, err)
	}
	_, err := chooseAccountFor(mine+1, data, users(nil))
	if fault, ok := errors.AsType[*FolderError](err); !ok || fault.Folder != data {
		t.Errorf("somebody else's choice: %v, want a FolderError about %s", err, data)
	}
}

func TestMayPass(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	info, err := os.Stat(dir)
	if err != nil {
		t.Fatal(err)
	}
	uid, gid := ownerOf(info)
	for _, c := range []struct {
		mode     os.FileMode
		uid, gid int
		want     bool
	}{
		{0o700, uid, gid, true},
		{0o700, uid + 1, gid + 1, false},
		{0o711, uid + 1, gid + 1, true},
		{0o744, uid + 1, gid + 1, false}, // may list, may not pass
		{0o710, uid + 1, gid, true},
		{0o701, uid + 1, gid, false}, // the group's bit counts, not the others'
		{0o070, uid, gid, false},
	} {
		name := fmt.Sprintf("%04o for %d:%d", c.mode, c.uid, c.gid)
		if err := os.Chmod(dir, c.mode); err != nil {
			t.Fatal(err)
		}
		err := account{name: "x", uid: c.uid, gid: c.gid, drop: true}.mayPass(dir)
		if (err == nil) != c.want {
			t.Errorf("%s: %v, want passable %t", name, err, c.want)
		}
	}
	if err := os.Chmod(dir, 0o700); err != nil {
		t.Fatal(err)
	}
}

func TestPlainEnv(t *testing.T) {
	t.Parallel()
	got := plainEnv([]string{"PATH=/bin", "PGDATA=/x", "PGPORT=1", "LC_ALL=xx", "LANG=xx", "SECRET=1", "LD_LIBRARY_PATH=/l", "DYLD_X=/d"})
	want := []string{"PATH=/bin", "LD_LIBRARY_PATH=/l", "DYLD_X=/d", "LC_ALL=C", "TZ=UTC"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("plainEnv (-want +got):\n%s", diff)
	}
}

// Somebody else may have put a folder of that name into a shared place.
func TestSocketFolderOfAnotherKindIsRefused(t *testing.T) {
	t.Parallel()
	base := t.TempDir()
	me := account{name: "me", uid: os.Geteuid(), gid: os.Getegid()}
	if err := me.makePrivate(filepath.Join(base, "fresh")); err != nil {
		t.Errorf("fresh: %v", err)
	}
	if err := me.makePrivate(filepath.Join(base, "fresh")); err != nil {
		t.Errorf("again: %v", err)
	}
	open := filepath.Join(base, "open")
	if err := errors.Join(os.Mkdir(open, 0o700), os.Chmod(open, 0o777)); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(base, "link")
	if err := os.Symlink(filepath.Join(base, "fresh"), link); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{open, link} {
		if _, ok := errors.AsType[*FolderError](me.makePrivate(path)); !ok {
			t.Errorf("%s was accepted", path)
		}
	}
	other := account{name: "other", uid: me.uid + 1}
	if _, ok := errors.AsType[*FolderError](other.makePrivate(filepath.Join(base, "fresh"))); !ok {
		t.Error("a folder of another user was accepted")
	}
}

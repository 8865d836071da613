package clipfiles_test

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"testing/iotest"
	"time"

	"delaybook/db/clipfiles"
	"delaybook/domain"

	"github.com/google/uuid"
)

func open(t *testing.T) (*clipfiles.Folder, string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "recordings")
	f, err := clipfiles.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return f, dir
}

func newID() domain.ClipID { return domain.ClipID{UUID: uuid.New()} }

func TestWhatIsWrittenIsThere(t *testing.T) {
	t.Parallel()
	f, dir := open(t)
	id, want := newID(), bytes.Repeat([]byte("recording"), 1000)
	got, err := f.Write(id, 0, bytes.NewReader(want), int64(len(want)))
	if err != nil || got.Size != int64(len(want)) || got.SHA256 != domain.Digest(sha256.Sum256(want)) {
		t.Fatalf("wrote %+v, %v", got, err)
	}
	paths := f.Paths(id, 1)
	if kept, err := os.ReadFile(paths[0]); err != nil || !bytes.Equal(kept, want) {
		t.Errorf("read back %d bytes, %v", len(kept), err)
	}
	err = filepath.Walk(dir, func(path string, info os.FileInfo, err error) error {
		if err == nil && info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s is open to others: %v", path, info.Mode())
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	again, err := clipfiles.Open(dir)
	if err != nil || again.Host() != f.Host() {
		t.Errorf("opened again the folder is %v, not %v, %v", again.Host(), f.Host(), err)
	}
	if other, _ := open(t); other.Host() == f.Host() {
		t.Error("two folders have one name")
	}
}

func TestWhatGoesWrongIsSaid(t *testing.T) {
	t.Parallel()
	f, _ := open(t)
	for name, c := range map[string]struct {
		from io.Reader
		want domain.Code
		says string
	}{
		"too large":  {strings.NewReader("12345"), domain.TooLarge, "larger"},
		"cut off":    {io.MultiReader(strings.NewReader("12"), iotest.ErrReader(io.ErrUnexpectedEOF)), domain.Malformed, "before its announced end"},
		"disk full":  {iotest.ErrReader(&os.PathError{Op: "write", Path: "/secret", Err: syscall.ENOSPC}), domain.Full, "full"},
		"over quota": {iotest.ErrReader(syscall.EDQUOT), domain.Full, "full"},
	} {
		_, err := f.Write(newID(), 0, c.from, 4)
		e, ok := errors.AsType[*domain.Error](err)
		if !ok || e.Code != c.want || !strings.Contains(e.Message, c.says) || strings.Contains(e.Message, "secret") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := f.Write(newID(), 0, strings.NewReader("1234"), 4); err != nil {
		t.Errorf("just as large as is taken: %v", err)
	}
}

func TestAnUploadIsAdopted(t *testing.T) {
	t.Parallel()
	f, _ := open(t)
	came, id := filepath.Join(f.Uploads(), "came"), newID()
	if err := os.WriteFile(came, []byte("recording"), 0o600); err != nil {
		t.Fatal(err)
	}
	got, err := f.Adopt(id, 1, came)
	if err != nil || got.Size != 9 {
		t.Fatalf("adopted %+v, %v", got, err)
	}
	if err := os.Remove(came); err != nil { // it stayed, so that adopting it can be tried again
		t.Error(err)
	}
	if kept, err := os.ReadFile(f.Paths(id, 2)[1]); err != nil || string(kept) != "recording" {
		t.Errorf("read back %q, %v", kept, err)
	}
	if _, err := f.Adopt(id, 0, came); err == nil {
		t.Error("adopted what is not there")
	}
}

func TestFoldersAreAsOldAsTheirNewestFile(t *testing.T) {
	t.Parallel()
	f, dir := open(t)
	id, now := newID(), time.Now()
	if _, err := f.Write(id, 0, strings.NewReader("x"), 1); err != nil {
		t.Fatal(err)
	}
	old := now.Add(-2 * time.Hour)
	if err := os.Chtimes(filepath.Join(dir, "clips", id.String()), old, old); err != nil {
		t.Fatal(err)
	}
	if found, err := f.Folders(now.Add(-time.Hour)); err != nil || len(found) != 0 {
		t.Errorf("one that is being written is old: %v %v", found, err)
	}
	if err := os.Chtimes(f.Paths(id, 1)[0], old, old); err != nil {
		t.Fatal(err)
	}
	if found, err := f.Folders(now.Add(-time.Hour)); err != nil || len(found) != 1 || found[0] != id {
		t.Errorf("old: %v %v, want %v", found, err, id)
	}
	if err := errors.Join(f.Remove(id), f.Remove(id)); err != nil {
		t.Errorf("removed twice: %v", err)
	}
	if found, err := f.Folders(now.Add(time.Hour)); err != nil || len(found) != 0 {
		t.Errorf("after the removal: %v %v", found, err)
	}
}

func TestADamagedNameIsAnError(t *testing.T) {
	t.Parallel()
	_, dir := open(t)
	if err := os.WriteFile(filepath.Join(dir, "host"), []byte("me"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := clipfiles.Open(dir); err == nil || !strings.Contains(err.Error(), "damaged") {
		t.Errorf("opened with %v", err)
	}
}

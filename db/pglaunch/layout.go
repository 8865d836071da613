package pglaunch

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// A layout names the things in a data folder.
type layout struct{ dir string }

func (l layout) lock() string     { return filepath.Join(l.dir, "lock") }
func (l layout) password() string { return filepath.Join(l.dir, "password") }
func (l layout) log() string      { return filepath.Join(l.dir, "postgres.log") }
func (l layout) data() string     { return filepath.Join(l.dir, "data") }
func (l layout) unborn() string   { return filepath.Join(l.dir, "data.new") }
func (l layout) run() string      { return filepath.Join(l.dir, "run") }
func (l layout) volatile() string { return filepath.Join(l.dir, "volatile") }
func (l layout) pidFile() string  { return filepath.Join(l.data(), "postmaster.pid") }

// major is the major version of the cluster, or 0 if there is none yet.
func (l layout) major() (int, error) {
	raw, err := os.ReadFile(filepath.Join(l.data(), "PG_VERSION"))
	if errors.Is(err, fs.ErrNotExist) {
		return 0, l.mustBeEmpty()
	}
	if err != nil {
		return 0, fmt.Errorf("version of the cluster: %w", err)
	}
	major, err := strconv.Atoi(strings.TrimSpace(string(raw)))
	if err != nil || major < 10 {
		return 0, &FolderError{l.data(), fmt.Sprintf("has the unknown version %q in its PG_VERSION; move it away or name another data folder", bytes.TrimSpace(raw))}
	}
	return major, nil
}

// mustBeEmpty protects what is not a cluster from being taken for an empty one.
func (l layout) mustBeEmpty() error {
	entries, err := os.ReadDir(l.data())
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0 {
		return nil
	}
	if err != nil {
		return fmt.Errorf("look into %s: %w", l.data(), err)
	}
	return &FolderError{l.data(), "holds files but no PG_VERSION, so it is not a whole PostgreSQL cluster; restore it, move it away or name another data folder"}
}

// checkMark refuses to mix volatile and durable use of one folder.
func (l layout) checkMark(volatile bool) error {
	_, err := os.Stat(l.volatile())
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("look for the mark of a volatile cluster: %w", err)
	}
	marked := err == nil
	if marked && !volatile {
		return &FolderError{l.dir, "holds a volatile cluster, made for tests and without protection against crashes: it cannot keep real data; name another folder"}
	}
	if volatile && !marked {
		if _, err := os.Stat(l.data()); err == nil {
			return &FolderError{l.dir, "holds a durable cluster, and a volatile start could destroy it; name another folder"}
		}
	}
	return nil
}

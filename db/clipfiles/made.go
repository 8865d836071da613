package clipfiles

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"delaybook/domain"
	"delaybook/domain/service"
)

var _ service.ClipMade = (*Folder)(nil)

func (f *Folder) made(id domain.ClipID) string { return filepath.Join(f.of(id), "made") }

// Made implements service.ClipMade.
func (f *Folder) Made(id domain.ClipID, folder string) ([]string, bool, error) {
	entries, err := os.ReadDir(filepath.Join(f.made(id), folder))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, fmt.Errorf("look at what was made of a recording: %w", err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names, true, nil
}

// MadeFile implements service.ClipMade.
func (f *Folder) MadeFile(id domain.ClipID, folder, name string) ([]byte, error) {
	data, err := os.ReadFile(filepath.Join(f.made(id), folder, name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read what was made of a recording: %w", err)
	}
	return data, nil
}

// KeepMade implements service.ClipMade.
func (f *Folder) KeepMade(id domain.ClipID, folder string, files map[string][]byte, most int) error {
	if _, err := os.Stat(f.of(id)); err != nil {
		return fmt.Errorf("keep what was made of a recording: %w", err) // it was deleted meanwhile: nothing is to be left of it
	}
	if err := os.MkdirAll(f.made(id), private); err != nil {
		return explain(err)
	}
	making, err := os.MkdirTemp(f.made(id), ".making-*")
	if err != nil {
		return explain(err)
	}
	defer os.RemoveAll(making)
	for name, data := range files {
		if err := os.WriteFile(filepath.Join(making, name), data, 0o600); err != nil {
			return explain(err)
		}
	}
	switch err := os.Rename(making, filepath.Join(f.made(id), folder)); {
	case err == nil:
		return f.thin(id, most)
	case errors.Is(err, fs.ErrExist):
		return nil
	default:
		return explain(err)
	}
}

// thin deletes the oldest folders of what was made of a clip.
func (f *Folder) thin(id domain.ClipID, most int) error {
	entries, err := os.ReadDir(f.made(id))
	if err != nil {
		return explain(err)
	}
	if len(entries) <= most {
		return nil
	}
	age := func(e fs.DirEntry) int64 {
		info, err := e.Info()
		if err != nil {
			return 0 // it has gone meanwhile
		}
		return info.ModTime().UnixNano()
	}
	slices.SortFunc(entries, func(a, b fs.DirEntry) int { return int(min(max(age(a)-age(b), -1), 1)) })
	for _, e := range entries[:len(entries)-most] {
		if err := os.RemoveAll(filepath.Join(f.made(id), e.Name())); err != nil {
			return fmt.Errorf("delete what was made of a recording: %w", err)
		}
	}
	return nil
}

// Package cardfile makes the media files of the flash-and-beep card and keeps
// them in a folder: each is made once, at the first request, whole or not at all.
package cardfile

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"delaybook/api"
	"delaybook/domain/card"
	"delaybook/domain/timebase"

	"golang.org/x/sync/singleflight"
)

// makeTime is how long making one file may take. The slowest encoder that is in
// use takes about a minute for the largest.
const makeTime = 10 * time.Minute

var _ api.CardShelf = (*Shelf)(nil)

// An Encode writes a file of the card to out, which does not exist. It calls
// progress, if that is not nil, now and then with how many frames are done.
type Encode func(ctx context.Context, f *card.File, c card.Container, out string, progress func(frames int64)) error

// A Shelf is a folder of files of the card.
type Shelf struct {
	ctx    context.Context // of making: longer than a request, which may be given up
	dir    string
	encode Encode
	wait   time.Duration // of a request
	making singleflight.Group
	turn   chan struct{} // making takes a core: one at a time
}

// Open returns the shelf in dir, a folder of its own, which is made when it is
// needed. What was half made when a program ended is removed. Files are made
// until ctx ends; a request waits for one as long as wait.
func Open(ctx context.Context, dir string, encode Encode, wait time.Duration) (*Shelf, error) {
	half, err := filepath.Glob(filepath.Join(dir, unfinished+"*"))
	if err != nil {
		return nil, fmt.Errorf("look for half made files of the card: %w", err)
	}
	for _, folder := range half {
		if err := os.RemoveAll(folder); err != nil {
			return nil, fmt.Errorf("remove a half made file of the card: %w", err)
		}
	}
	return &Shelf{ctx: ctx, dir: dir, encode: encode, wait: wait, turn: make(chan struct{}, 1)}, nil
}

// unfinished is how the name of a folder begins in which a file is made.
const unfinished = ".making-"

// Size returns how many bytes a file has; ok is false if it is not made yet.
func (s *Shelf) Size(rate timebase.Rate, c card.Container) (bytes int64, ok bool) {
	info, err := os.Stat(s.path(rate, c))
	if err != nil {
		return 0, false
	}
	return info.Size(), true
}

func (s *Shelf) path(rate timebase.Rate, c card.Container) string {
	return filepath.Join(s.dir, card.FileName(rate, c))
}

// Open opens a file for reading. One that is not there is made first: whoever
// else asks for it meanwhile waits for the same making, which goes on when ctx
// ends, with the error of ctx, and when it has waited too long, with
// api.ErrMaking.
func (s *Shelf) Open(ctx context.Context, rate timebase.Rate, c card.Container) (*os.File, error) {
	path := s.path(rate, c)
	file, err := os.Open(path)
	if !errors.Is(err, fs.ErrNotExist) {
		return file, err
	}
	done := s.making.DoChan(filepath.Base(path), func() (any, error) { return nil, s.make(rate, c, path) })
	select {
	case result := <-done:
		if result.Err != nil {
			return nil, result.Err
		}
		return os.Open(path)
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-time.After(s.wait):
		return nil, api.ErrMaking
	}
}

func (s *Shelf) make(rate timebase.Rate, c card.Container, path string) error {
	ctx, stop := context.WithTimeout(s.ctx, makeTime)
	defer stop()
	select {
	case s.turn <- struct{}{}:
		defer func() { <-s.turn }()
	case <-ctx.Done():
		return ctx.Err()
	}
	if _, err := os.Stat(path); err == nil {
		return nil // made between the look of a request and its turn
	}
	// The server of the database, under an account of its own, may have to pass through the folder above.
	if err := os.MkdirAll(s.dir, 0o755); err != nil {
		return fmt.Errorf("make the folder of the card: %w", err)
	}
	return Write(ctx, s.encode, rate, c, path, nil)
}

// Write makes one file at path, whole or not at all: it is written beside it and
// then renamed. A file that is there is replaced.
func Write(ctx context.Context, encode Encode, rate timebase.Rate, c card.Container, path string, progress func(frames int64)) (err error) {
	f, err := card.NewFile(rate)
	if err != nil {
		return err
	}
	folder, err := os.MkdirTemp(filepath.Dir(path), unfinished)
	if err != nil {
		return fmt.Errorf("make a file of the card: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	half := filepath.Join(folder, "card."+string(c))
	if err := encode(ctx, f, c, half, progress); err != nil {
		return fmt.Errorf("make the card at %s in %s: %w", rate.Label(), strings.ToUpper(string(c)), err)
	}
	if err := settle(half); err != nil {
		return fmt.Errorf("store the card: %w", err)
	}
	return os.Rename(half, path)
}

// settle brings a file to the disk, so that a power cut leaves none under a good
// name that is empty.
func settle(path string) error {
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(file.Chmod(0o644), file.Sync(), file.Close())
}

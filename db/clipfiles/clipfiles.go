// Package clipfiles keeps the files of recordings in a folder on this machine:
//
//	DIR/host            the identifier of the folder
//	DIR/uploads/        what comes in bit by bit
//	DIR/clips/ID/0, 1   the files of a clip
//
// Nobody else of the machine may look into it. A file counts as kept once it
// and the names that lead to it are on the disk, so that a crash after that
// loses nothing. The files are whatever people send: nothing here opens them.
package clipfiles

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/google/uuid"
)

var _ service.ClipFiles = (*Folder)(nil)

// private lets only the owner in.
const private = 0o700

// A Folder implements service.ClipFiles. It is safe for concurrent use.
type Folder struct {
	dir  string
	host uuid.UUID
}

// Open opens the folder dir, making it if need be.
func Open(dir string) (*Folder, error) {
	f := &Folder{dir: dir}
	for _, d := range []string{dir, f.clips(), f.Uploads()} {
		if err := os.MkdirAll(d, private); err != nil {
			return nil, fmt.Errorf("make the folder of recordings: %w", err)
		}
		if err := os.Chmod(d, private); err != nil {
			return nil, fmt.Errorf("close the folder of recordings to others: %w", err)
		}
	}
	var err error
	f.host, err = f.identify()
	return f, err
}

func (f *Folder) clips() string { return filepath.Join(f.dir, "clips") }

// Uploads is where recordings are that come in bit by bit.
func (f *Folder) Uploads() string { return filepath.Join(f.dir, "uploads") }

// identify returns the identifier of the folder. Of several processes that
// begin it one names it.
func (f *Folder) identify() (uuid.UUID, error) {
	name := filepath.Join(f.dir, "host")
	made, err := os.CreateTemp(f.dir, "host-*")
	if err != nil {
		return uuid.Nil, fmt.Errorf("name the folder of recordings: %w", err)
	}
	defer os.Remove(made.Name())
	_, err = made.WriteString(uuid.NewString())
	if err := errors.Join(err, made.Sync(), made.Close()); err != nil {
		return uuid.Nil, fmt.Errorf("name the folder of recordings: %w", err)
	}
	if err := os.Link(made.Name(), name); err != nil && !errors.Is(err, fs.ErrExist) {
		return uuid.Nil, fmt.Errorf("name the folder of recordings: %w", err)
	}
	text, err := os.ReadFile(name)
	if err != nil {
		return uuid.Nil, fmt.Errorf("read the name of the folder of recordings: %w", err)
	}
	id, err := uuid.Parse(strings.TrimSpace(string(text)))
	if err != nil {
		return uuid.Nil, fmt.Errorf("%s is damaged: it must hold a UUID: %w", name, err)
	}
	return id, nil
}

// Host implements service.ClipFiles.
func (f *Folder) Host() uuid.UUID { return f.host }

func (f *Folder) of(id domain.ClipID) string { return filepath.Join(f.clips(), id.String()) }

func (f *Folder) path(id domain.ClipID, n int) string {
	return filepath.Join(f.of(id), strconv.Itoa(n))
}

// Paths implements service.ClipFiles.
func (f *Folder) Paths(id domain.ClipID, n int) []string {
	var out []string
	for i := range n {
		out = append(out, f.path(id, i))
	}
	return out
}

// Write implements service.ClipFiles.
func (f *Folder) Write(id domain.ClipID, n int, r io.Reader, most int64) (service.ClipFile, error) {
	if err := os.MkdirAll(f.of(id), private); err != nil {
		return service.ClipFile{}, explain(err)
	}
	out, err := os.OpenFile(f.path(id, n), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return service.ClipFile{}, explain(err)
	}
	sum := sha256.New()
	size, err := io.Copy(out, io.TeeReader(io.LimitReader(r, most+1), sum))
	if err == nil && size > most {
		err = domain.Errorf(domain.TooLarge, "The recording is larger than is taken: send a shorter part of it, or the same at a smaller size.")
	}
	if err == nil {
		err = out.Sync()
	}
	if err := errors.Join(err, out.Close()); err != nil {
		return service.ClipFile{}, explain(err)
	}
	got := service.ClipFile{Size: size, SHA256: domain.Digest(sum.Sum(nil))}
	return got, f.settle(id)
}

// Adopt implements service.ClipFiles.
func (f *Folder) Adopt(id domain.ClipID, n int, path string) (service.ClipFile, error) {
	in, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return service.ClipFile{}, explain(err)
	}
	sum := sha256.New()
	size, err := io.Copy(sum, in)
	if err == nil {
		err = in.Sync()
	}
	if err := errors.Join(err, in.Close()); err != nil {
		return service.ClipFile{}, explain(err)
	}
	if err := os.MkdirAll(f.of(id), private); err != nil {
		return service.ClipFile{}, explain(err)
	}
	if err := os.Remove(f.path(id, n)); err != nil && !errors.Is(err, fs.ErrNotExist) { // of a try that failed
		return service.ClipFile{}, explain(err)
	}
	if err := os.Link(path, f.path(id, n)); err != nil {
		return service.ClipFile{}, explain(err)
	}
	return service.ClipFile{Size: size, SHA256: domain.Digest(sum.Sum(nil))}, f.settle(id)
}

// settle makes sure that the names that lead to the files of a clip survive a crash.
func (f *Folder) settle(id domain.ClipID) error {
	for _, d := range []string{f.of(id), f.clips()} {
		dir, err := os.Open(d)
		if err != nil {
			return explain(err)
		}
		if err := errors.Join(dir.Sync(), dir.Close()); err != nil {
			return explain(err)
		}
	}
	return nil
}

// explain says to people what they can help.
func explain(err error) error {
	if _, ok := errors.AsType[*domain.Error](err); ok {
		return err
	}
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
		return &domain.Error{Code: domain.Full, Message: "The disk of the service is full: nothing was kept of the recording.", Err: err}
	}
	if errors.Is(err, io.ErrUnexpectedEOF) {
		return &domain.Error{
			Code: domain.Malformed, Message: "The recording ended before its announced end: send it again, or bit by bit over a poor network.", Err: err,
		}
	}
	return fmt.Errorf("keep a recording: %w", err)
}

// Remove implements service.ClipFiles.
func (f *Folder) Remove(id domain.ClipID) error {
	if err := os.RemoveAll(f.of(id)); err != nil {
		return fmt.Errorf("delete a recording: %w", err)
	}
	return nil
}

// Folders implements service.ClipFiles. A folder is as old as what was last
// written in it.
func (f *Folder) Folders(at time.Time) ([]domain.ClipID, error) {
	entries, err := os.ReadDir(f.clips())
	if err != nil {
		return nil, fmt.Errorf("list the recordings: %w", err)
	}
	var out []domain.ClipID
	for _, e := range entries {
		id, err := uuid.Parse(e.Name())
		if err == nil && f.newest(e.Name()).Before(at) {
			out = append(out, domain.ClipID{UUID: id})
		}
	}
	return out, nil
}

// newest is when the folder or a file in it was last written; what has gone
// meanwhile does not count.
func (f *Folder) newest(name string) time.Time {
	var at time.Time
	dir := filepath.Join(f.clips(), name)
	files, _ := os.ReadDir(dir)
	paths := []string{dir}
	for _, e := range files {
		paths = append(paths, filepath.Join(dir, e.Name()))
	}
	for _, p := range paths {
		if info, err := os.Stat(p); err == nil && info.ModTime().After(at) {
			at = info.ModTime()
		}
	}
	return at
}

// ExpireUploads implements service.ClipFiles.
func (f *Folder) ExpireUploads(at time.Time) error {
	entries, err := os.ReadDir(f.Uploads())
	if err != nil {
		return fmt.Errorf("list the uploads: %w", err)
	}
	var failed []error
	for _, e := range entries {
		bytes := strings.TrimSuffix(e.Name(), ".info") // the two of an upload go together
		if f.written(bytes).Before(at) && f.written(bytes+".info").Before(at) {
			if err := os.Remove(filepath.Join(f.Uploads(), e.Name())); err != nil && !errors.Is(err, fs.ErrNotExist) {
				failed = append(failed, fmt.Errorf("delete an upload that nobody finished: %w", err))
			}
		}
	}
	return errors.Join(failed...)
}

// written is when a file of an upload was last written; one that is gone never was.
func (f *Folder) written(name string) time.Time {
	info, err := os.Stat(filepath.Join(f.Uploads(), name))
	if err != nil {
		return time.Time{}
	}
	return info.ModTime()
}

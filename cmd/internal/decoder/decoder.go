// Package decoder reads recordings and makes test ones, by a program of its own:
// media files are written by anyone, and reading them is no work for a process
// that holds the book.
//
// The program is delaybook-decode, which is FFmpeg shut in WebAssembly, or a
// native FFmpeg that somebody named: several times faster, and not memory-safe,
// so it runs with limits, an empty environment and, when started by root, as a
// user of its own. Both get the same arguments. Whatever a file does, a call
// answers within its limits, with a recording or with an *Error that carries the
// recording.Refusal to show.
package decoder

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"time"
)

const programName = "delaybook-decode"

// nobody is the user that owns no files, by custom of Linux systems.
const nobody = 65534

// Options say which program decodes and how far it may go. The zero value is
// the builtin one with the usual limits.
type Options struct {
	Program   string // delaybook-decode; empty: beside the running program, else on PATH
	Native    string // an FFmpeg, with its ffprobe beside it, to use instead; absolute path, or a name on PATH
	NativeUID uint32 // user and group that Native runs as if this process is root; 0: 65534, nobody
	CacheDir  string // of the compiled builtin, owned by the user and closed to others; empty: in the user's cache folder
	Limits    Limits
}

// Limits bound what a file may cost. A zero field means the usual one.
type Limits struct {
	Bytes       int64         // of the file; 4 GiB
	Frames      int           // decoded; 7200, which is 30 s at 240 a second
	Pixels      int           // of a frame; 4096 x 2304
	Streams     int           // in the file; 40
	Channels    int           // of sound, all streams together; 16
	OutputBytes int64         // of pictures and sound decoded; 200 MiB
	Wall        time.Duration // of one call; 30 min
	CPU         time.Duration // processor time of one call; 20 min
}

func (l Limits) orUsual() Limits {
	usual(&l.Bytes, 4<<30)
	usual(&l.Frames, 7200)
	usual(&l.Pixels, 4096*2304)
	usual(&l.Streams, 40)
	usual(&l.Channels, 16)
	usual(&l.OutputBytes, 200<<20)
	usual(&l.Wall, 30*time.Minute)
	usual(&l.CPU, 20*time.Minute)
	return l
}

func usual[T comparable](field *T, value T) {
	if *field == *new(T) {
		*field = value
	}
}

// A Decoder starts one process a call. It may be used by many goroutines; how
// many decode at once is for the caller to bound, one a core being sensible.
type Decoder struct {
	program       string // delaybook-decode; empty if native
	ffmpeg, probe string // native; empty if builtin
	uid           uint32
	cache         string
	limits        Limits
}

// Open finds the program. It starts nothing: Warm does.
func Open(o Options) (*Decoder, error) {
	d := &Decoder{uid: o.NativeUID, cache: o.CacheDir, limits: o.Limits.orUsual()}
	usual(&d.uid, nobody)
	if o.Native != "" {
		return d, d.findNative(o.Native)
	}
	if err := d.findBuiltin(o.Program); err != nil {
		return nil, err
	}
	if d.cache == "" {
		caches, err := os.UserCacheDir()
		if err != nil {
			return nil, fmt.Errorf("no folder for the compiled decoder: %w; name one", err)
		}
		d.cache = filepath.Join(caches, "delaybook", "decoder")
	}
	var err error
	d.cache, err = filepath.Abs(d.cache)
	return d, err
}

func (d *Decoder) findNative(named string) error {
	ffmpeg, err := exec.LookPath(named)
	if err != nil {
		return fmt.Errorf("the native decoder: %w; name the program ffmpeg, or leave it out for the builtin decoder", err)
	}
	if d.ffmpeg, err = filepath.Abs(ffmpeg); err != nil {
		return err
	}
	d.probe = filepath.Join(filepath.Dir(d.ffmpeg), "ffprobe")
	if _, err := exec.LookPath(d.probe); err != nil {
		return fmt.Errorf("the native decoder %s has no ffprobe beside it: install both in one folder", d.ffmpeg)
	}
	return nil
}

func (d *Decoder) findBuiltin(named string) error {
	if named != "" {
		program, err := exec.LookPath(named)
		if err != nil {
			return fmt.Errorf("the decoder: %w; build it with: go build ./cmd/%s", err, programName)
		}
		d.program, err = filepath.Abs(program)
		return err
	}
	if self, err := os.Executable(); err == nil {
		beside := filepath.Join(filepath.Dir(self), programName)
		if _, err := exec.LookPath(beside); err == nil {
			d.program = beside
			return nil
		}
	}
	program, err := exec.LookPath(programName)
	if errors.Is(err, exec.ErrDot) || errors.Is(err, exec.ErrNotFound) || errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("recordings need the program %[1]s, which is neither beside this one nor on PATH: "+
			"build it with go build ./cmd/%[1]s, or name an ffmpeg", programName)
	}
	if err != nil {
		return fmt.Errorf("the decoder: %w", err)
	}
	d.program, err = filepath.Abs(program)
	return err
}

// Native tells whether a native program decodes.
func (d *Decoder) Native() bool { return d.program == "" }

// Warm compiles the builtin decoder into its cache, which takes some 10 s of one
// core and 400 MB once; afterwards, and with a native one, it does next to
// nothing. Calls that find no compiled decoder do the same, at that moment.
func (d *Decoder) Warm(ctx context.Context) error {
	if d.Native() {
		return nil
	}
	return d.run(ctx, process{kind: "compile"})
}

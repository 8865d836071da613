// SPDX-License-Identifier: GPL-3.0-or-later

// Command delaybook-decode reads and writes recordings for delaybook, shut in
// on one side: it sees the files it is told, writes where it is told, and opens
// nothing else. It runs FFmpeg 5.1 as WebAssembly, from
// codeberg.org/gruf/go-ffmpreg.
//
// # Licence
//
// FFmpeg as built there, and the module that carries it, are under the GNU
// General Public License, version 3. So is this program, and nothing else of
// delaybook: the other programs start it as a process of its own and talk to it
// over pipes. The text is in the file LICENSE of this folder.
//
// # Use
//
//	delaybook-decode KIND --cache FOLDER [flags] [-- ARGUMENTS]
//
// The kinds are compile (fill the cache and stop), probe (what a file holds),
// decode (its picture and sound) and encode. The arguments are those of ffprobe
// for probe and of ffmpeg for the others; they see each --in file as /in/ and
// its name, read only, and the folder of --out as /out. The exit code is
// FFmpeg's; 2 for wrong words and 3 for what this program itself refuses.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"slices"
)

const about = `delaybook-decode reads and writes recordings for delaybook, as a process of its own.

  delaybook-decode KIND --cache FOLDER [flags] [-- ARGUMENTS]

kinds
  compile   compile the decoder into the cache and stop
  probe     say what a file holds; arguments of ffprobe
  decode    its picture and sound; arguments of ffmpeg
  encode    make a file in the folder --out; arguments of ffmpeg

flags
  --cache FOLDER       of the compiled decoder; owned by you, closed to others
  --in FILE            a file to read, seen as /in/NAME; may be repeated
  --out FOLDER         encode only: an empty folder to write, seen as /out
  --cpu-seconds N      stop after so many seconds of processor time
  --version            what this is

It is under the GNU General Public License 3 or later: it contains FFmpeg and
libraries that are. Source: codeberg.org/gruf/go-ffmpreg v0.6.22.
`

const version = "delaybook-decode: FFmpeg n5.1.10 as WebAssembly (go-ffmpreg v0.6.22), GPL-3.0-or-later\n"

// Exit codes of this program itself; all others are FFmpeg's, which ends with 0 or 1.
const (
	exitUsage   = 2
	exitRefused = 3
)

// A usageError is a call in wrong words.
type usageError struct{ text string }

func (e *usageError) Error() string { return e.text + "; see delaybook-decode --help" }

// An order is a call, taken apart.
type order struct {
	kind       string
	cache      string
	in         []string
	out        string
	cpuSeconds uint64
	arguments  []string
}

var kinds = []string{"compile", "probe", "decode", "encode"}

func parse(args []string) (order, error) {
	if len(args) == 0 || !slices.Contains(kinds, args[0]) {
		return order{}, &usageError{fmt.Sprintf("say what to do first, one of %q", kinds)}
	}
	o := order{kind: args[0]}
	flags := flag.NewFlagSet("delaybook-decode", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.StringVar(&o.cache, "cache", "", "")
	flags.StringVar(&o.out, "out", "", "")
	flags.Uint64Var(&o.cpuSeconds, "cpu-seconds", 0, "")
	flags.Func("in", "", func(file string) error {
		o.in = append(o.in, file)
		return nil
	})
	if err := flags.Parse(args[1:]); err != nil {
		return order{}, &usageError{err.Error()}
	}
	o.arguments = flags.Args()
	switch {
	case o.cache == "":
		return order{}, &usageError{"name the folder of the compiled decoder with --cache"}
	case (o.kind == "encode") != (o.out != ""):
		return order{}, &usageError{"encode needs an --out folder, and only encode has one"}
	case (o.kind == "probe" || o.kind == "decode") && len(o.in) != 1:
		return order{}, &usageError{o.kind + " reads one --in file"}
	}
	return o, nil
}

func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) (int, error) {
	if len(args) == 1 && slices.Contains([]string{"--help", "-h", "help"}, args[0]) {
		_, err := io.WriteString(stdout, about)
		return 0, err
	}
	if len(args) == 1 && args[0] == "--version" {
		_, err := io.WriteString(stdout, version)
		return 0, err
	}
	o, err := parse(args)
	if err != nil {
		return exitUsage, err
	}
	if o.cpuSeconds > 0 {
		if err := limitCPU(o.cpuSeconds); err != nil {
			return exitRefused, err
		}
	}
	return o.carryOut(ctx, stdin, stdout, stderr)
}

func main() {
	code, err := run(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	if err != nil {
		fmt.Fprintln(os.Stderr, "delaybook-decode:", err)
		if used := (*usageError)(nil); !errors.As(err, &used) && code == 0 {
			code = exitRefused
		}
	}
	os.Exit(code)
}

package decoder

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// nativeMemoryKiB bounds the address space of a native decoder. It counts what is mapped, not what is used, of which
// a tenth is resident.
const nativeMemoryKiB = 4 << 20

// A process is one run of the program. The arguments refer to what it reads and writes by the functions that args
// gets, because each program sees other paths.
type process struct {
	kind   string   // compile, probe, decode or encode
	in     []string // files to read
	out    string   // encode: a file to make, in a folder that is empty
	args   func(see paths) []string
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer // nil: kept for the error
}

// paths are the names by which the program sees files.
type paths struct {
	in  []string
	out string
}

// run starts the program, waits for it, and kills it with the context. The error is an *exec.ExitError, an *Error of
// code timed-out, or the context's.
func (d *Decoder) run(ctx context.Context, p process) error {
	limited, cancel := context.WithTimeoutCause(ctx, d.limits.Wall, errTooSlow)
	defer cancel()
	var said bytes.Buffer
	if p.stderr == nil {
		p.stderr = &headWriter{w: &said, left: 4096}
	}
	cmd, release, err := d.command(limited, p)
	if err != nil {
		return err
	}
	defer release()
	cmd.Env = []string{}
	cmd.WaitDelay = 2 * time.Second
	cmd.Stdin, cmd.Stdout, cmd.Stderr = p.stdin, p.stdout, p.stderr
	err = cmd.Run()
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	if limited.Err() != nil || killedByCPULimit(err) {
		return refuse(timedOut(d.limits), err)
	}
	if text := strings.TrimSpace(said.String()); err != nil && text != "" {
		return fmt.Errorf("%w: %s", err, text)
	}
	return err
}

var errTooSlow = errors.New("the wall time for one file is over")

// killedByCPULimit tells whether the kernel ended the process. Nothing else does: the context is looked at before.
func killedByCPULimit(err error) bool {
	exit := (*exec.ExitError)(nil)
	if !errors.As(err, &exit) {
		return false
	}
	status, ok := exit.Sys().(syscall.WaitStatus)
	return ok && status.Signaled() && (status.Signal() == syscall.SIGKILL || status.Signal() == syscall.SIGXCPU)
}

func (d *Decoder) command(ctx context.Context, p process) (cmd *exec.Cmd, release func(), err error) {
	if d.Native() {
		return d.nativeCommand(ctx, p)
	}
	args := []string{p.kind, "--cache", d.cache, "--cpu-seconds", d.cpuSeconds()}
	see := paths{out: "/out/" + filepath.Base(p.out)}
	for _, file := range p.in {
		absolute, err := filepath.Abs(file)
		if err != nil {
			return nil, nil, err
		}
		args = append(args, "--in", absolute)
		see.in = append(see.in, "/in/"+filepath.Base(absolute))
	}
	if p.out != "" {
		args = append(args, "--out", filepath.Dir(p.out))
	}
	args = append(args, "--")
	if p.args != nil {
		args = append(args, p.args(see)...)
	}
	return exec.CommandContext(ctx, d.program, args...), func() {}, nil
}

// cpuSeconds leaves the compiler its share.
func (d *Decoder) cpuSeconds() string {
	const compiling = 60
	return strconv.FormatInt(int64(d.limits.CPU/time.Second)+compiling, 10)
}

// nativeCommand runs the program under a shell that sets the limits, since a limit set from outside would come too
// late. Files are passed open: the program needs no right to their folders, and a name means nothing to it.
func (d *Decoder) nativeCommand(ctx context.Context, p process) (cmd *exec.Cmd, release func(), err error) {
	program := d.ffmpeg
	if p.kind == "probe" {
		program = d.probe
	}
	asOther := os.Geteuid() == 0
	opened, see, err := p.open(asOther)
	release = func() {
		for _, f := range opened {
			_ = f.Close()
		}
	}
	if err != nil {
		release()
		return nil, nil, err
	}
	const limits = `ulimit -t "$1" && ulimit -v "$2" && ulimit -c 0 && ulimit -n 32 || exit 125; shift 2; exec "$@"`
	args := []string{"-c", limits, "sh", d.cpuSeconds(), strconv.Itoa(nativeMemoryKiB), program}
	cmd = exec.CommandContext(ctx, "/bin/sh", append(args, p.args(see)...)...)
	cmd.ExtraFiles = opened
	cmd.Dir = "/"
	if asOther {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: d.uid, Gid: d.uid}}
	}
	return cmd, release, nil
}

// open opens what the process reads and writes, and answers the names of the descriptors, which begin at 3.
func (p process) open(asOther bool) (opened []*os.File, see paths, err error) {
	name := func() string { return "/dev/fd/" + strconv.Itoa(2+len(opened)) }
	for _, file := range p.in {
		f, err := openPlain(file, asOther)
		if err != nil {
			return opened, see, err
		}
		opened = append(opened, f)
		see.in = append(see.in, name())
	}
	if p.out == "" {
		return opened, see, nil
	}
	f, err := os.OpenFile(p.out, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return opened, see, err
	}
	opened = append(opened, f)
	see.out = name()
	if asOther {
		err = f.Chmod(0o666) // its folder is closed to others
	}
	return opened, see, err
}

// openPlain opens a plain file and nothing else. Another user opens it again through the descriptor, for which the
// file itself has to be readable; where it is not, that user gets a copy that has no name.
func openPlain(name string, forAnother bool) (*os.File, error) {
	f, err := os.OpenFile(name, os.O_RDONLY|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	if !info.Mode().IsRegular() {
		return nil, errors.Join(fmt.Errorf("%s is not a plain file", name), f.Close())
	}
	if !forAnother || info.Mode().Perm()&0o004 != 0 {
		return f, nil
	}
	shared, err := readableCopy(f)
	return shared, errors.Join(err, f.Close())
}

func readableCopy(f *os.File) (*os.File, error) {
	shared, err := os.CreateTemp("", "delaybook-decode-*")
	if err != nil {
		return nil, err
	}
	_, err = io.Copy(shared, f)
	err = errors.Join(err, shared.Chmod(0o444), os.Remove(shared.Name()))
	return shared, err
}

// A headWriter keeps the beginning and takes the rest for written.
type headWriter struct {
	w    io.Writer
	left int
}

func (h *headWriter) Write(p []byte) (int, error) {
	head := p[:min(len(p), h.left)]
	h.left -= len(head)
	_, err := h.w.Write(head)
	return len(p), err
}

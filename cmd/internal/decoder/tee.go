package decoder

import (
	"context"
	"io"
	"sync"
)

// teePipes sends the packets to one pipe and their time stamps to the other. Without bitexact the Matroska writer
// looks for chance, of which the builtin has none, and does not return.
const teePipes = "[f=matroska:fflags=+bitexact]pipe:1|[f=framecrc:avoid_negative_ts=disabled]pipe:2"

// tee runs the program and reads both of its pipes. An error of a reader ends the program.
func (d *Decoder) tee(ctx context.Context, file string, packet func(stream int, content []byte) error,
	line func(stream int, s stamp) error, args func(file string) []string,
) error {
	running, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	media, stderr := newTap(), newTap()
	var readers sync.WaitGroup
	readers.Go(func() { media.read(stop, func(r io.Reader) error { return blocks(r, packet) }) })
	readers.Go(func() { stderr.read(stop, func(r io.Reader) error { return stamps(r, line) }) })
	err := d.run(running, process{
		kind: "decode", in: []string{file}, stdout: media.w, stderr: stderr.w,
		args: func(see paths) []string { return args(see.in[0]) },
	})
	_ = media.w.Close()
	_ = stderr.w.Close()
	readers.Wait()
	if cause := context.Cause(running); cause != nil {
		return cause
	}
	return err
}

// A tap is a pipe from the program to a reader.
type tap struct {
	r *io.PipeReader
	w *io.PipeWriter
}

func newTap() tap {
	r, w := io.Pipe()
	return tap{r, w}
}

func (t tap) read(stop context.CancelCauseFunc, reader func(io.Reader) error) {
	err := reader(t.r)
	if err != nil {
		stop(err)
	}
	_ = t.r.CloseWithError(err) // whatever follows is refused, so that the program does not wait for a reader
}

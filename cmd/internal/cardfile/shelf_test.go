package cardfile_test

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"delaybook/api"
	"delaybook/cmd/internal/cardfile"
	"delaybook/domain/card"
)

// A pretender writes the name of what it should encode, as soon as it may.
type pretender struct {
	made atomic.Int64
	may  chan struct{}
	fail error
}

func (p *pretender) encode(ctx context.Context, f *card.File, c card.Container, out string, progress func(int64)) error {
	p.made.Add(1)
	select {
	case <-p.may:
	case <-ctx.Done():
		return ctx.Err()
	}
	if progress != nil {
		progress(f.Frames)
	}
	if err := os.WriteFile(out, []byte(f.Rate.Label()+string(c)), 0o600); err != nil {
		return err
	}
	return p.fail
}

func ready() *pretender {
	p := &pretender{may: make(chan struct{})}
	close(p.may)
	return p
}

func open(t *testing.T, dir string, p *pretender) *cardfile.Shelf {
	t.Helper()
	shelf, err := cardfile.Open(t.Context(), dir, p.encode, time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	return shelf
}

func read(t *testing.T, shelf *cardfile.Shelf, rate string, c card.Container) string {
	t.Helper()
	r, err := card.ParseRate(rate)
	if err != nil {
		t.Fatal(err)
	}
	file, err := shelf.Open(t.Context(), r, c)
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(file)
	if err := errors.Join(err, file.Close()); err != nil {
		t.Fatal(err)
	}
	return string(body)
}

// left lists what a folder holds, whatever it is called.
func left(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func TestAFileIsMadeOnce(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "data", "card")
	p := ready()
	shelf := open(t, dir, p)
	r, _ := card.ParseRate("25")
	if _, ok := shelf.Size(r, card.MOV); ok {
		t.Error("a file is there before it is made")
	}
	for range 3 {
		if got := read(t, shelf, "25", card.MOV); got != "25mov" {
			t.Fatalf("the file holds %q", got)
		}
	}
	if got := read(t, open(t, dir, p), "25", card.MOV); got != "25mov" || p.made.Load() != 1 {
		t.Errorf("after a restart the file holds %q, made %d times", got, p.made.Load())
	}
	if got := read(t, shelf, "25", card.MP4); got != "25mp4" {
		t.Errorf("the other container holds %q", got)
	}
	if size, ok := shelf.Size(r, card.MOV); size != 5 || !ok {
		t.Errorf("its size is %d, %t", size, ok)
	}
	if got := left(t, dir); len(got) != 2 {
		t.Errorf("the folder holds %v", got)
	}
}

func TestRequestsShareOneMaking(t *testing.T) {
	t.Parallel()
	p := &pretender{may: make(chan struct{})}
	shelf := open(t, t.TempDir(), p)
	r, _ := card.ParseRate("29.97")
	// One who leaves does not end it for the others.
	brief, leave := context.WithCancel(t.Context())
	leave()
	if _, err := shelf.Open(brief, r, card.MP4); !errors.Is(err, context.Canceled) {
		t.Fatalf("who left got %v", err)
	}
	var all sync.WaitGroup
	for range 5 {
		all.Go(func() {
			if got := read(t, shelf, "29.97", card.MP4); got != "29.97mp4" {
				t.Errorf("a request got %q", got)
			}
		})
	}
	close(p.may)
	all.Wait()
	if p.made.Load() != 1 {
		t.Errorf("made %d times, want once", p.made.Load())
	}
}

func TestAFailureLeavesNothing(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	p := ready()
	p.fail = errors.New("no space left")
	shelf := open(t, dir, p)
	r, _ := card.ParseRate("24")
	for range 2 {
		if _, err := shelf.Open(t.Context(), r, card.MOV); err == nil || !strings.Contains(err.Error(), "24 in MOV: no space left") {
			t.Errorf("got %v", err)
		}
	}
	if got := left(t, dir); len(got) != 0 || p.made.Load() != 2 {
		t.Errorf("after %d tries the folder holds %v", p.made.Load(), got)
	}
}

func TestACrashLeavesNothing(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, ".making-1"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, ".making-1", "card.mov"), []byte("half"), 0o600); err != nil {
		t.Fatal(err)
	}
	open(t, dir, ready())
	if got := left(t, dir); len(got) != 0 {
		t.Errorf("the folder holds %v", got)
	}
}

func TestARequestDoesNotWaitForEver(t *testing.T) {
	t.Parallel()
	p := &pretender{may: make(chan struct{})}
	shelf, err := cardfile.Open(t.Context(), t.TempDir(), p.encode, time.Millisecond)
	if err != nil {
		t.Fatal(err)
	}
	r, _ := card.ParseRate("30")
	if _, err := shelf.Open(t.Context(), r, card.MOV); !errors.Is(err, api.ErrMaking) {
		t.Fatalf("got %v", err)
	}
	close(p.may)
	for range 1000 {
		if _, ok := shelf.Size(r, card.MOV); ok {
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Error("making ended with the request")
}

func TestMakingEndsWithTheService(t *testing.T) {
	t.Parallel()
	ctx, stop := context.WithCancel(t.Context())
	p := &pretender{may: make(chan struct{})}
	shelf, err := cardfile.Open(ctx, t.TempDir(), p.encode, time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	r, _ := card.ParseRate("50")
	stop()
	if _, err := shelf.Open(t.Context(), r, card.MOV); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

package main

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/google/uuid"
)

// A stream submits measurements until it is stopped, and remembers which were
// acknowledged.
type stream struct {
	mu           sync.Mutex
	sent         []string
	acknowledged map[string]bool
	done         chan struct{}
	stop         context.CancelFunc
}

func (p *process) submit(tb testing.TB, key string, writers int) *stream {
	tb.Helper()
	ctx, stop := context.WithCancel(tb.Context())
	s := &stream{acknowledged: map[string]bool{}, done: make(chan struct{}), stop: stop}
	var all sync.WaitGroup
	for range writers {
		all.Go(func() {
			for ctx.Err() == nil {
				id := uuid.NewString()
				s.mu.Lock()
				s.sent = append(s.sent, id)
				s.mu.Unlock()
				status, _, err := p.call(ctx, key, http.MethodPost, "/v1/rigs/hall/measurements", measurement(id, 5))
				if err == nil && status == http.StatusCreated {
					s.mu.Lock()
					s.acknowledged[id] = true
					s.mu.Unlock()
				}
			}
		})
	}
	go func() { all.Wait(); close(s.done) }()
	return s
}

// waitFor waits until n measurements were acknowledged.
func (s *stream) waitFor(tb testing.TB, n int) {
	tb.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); {
		s.mu.Lock()
		got := len(s.acknowledged)
		s.mu.Unlock()
		if got >= n {
			return
		}
		select {
		case <-s.done:
			tb.Fatal("the stream ended")
		case <-time.After(10 * time.Millisecond):
		}
	}
	tb.Fatalf("fewer than %d measurements were acknowledged in a minute", n)
}

func (s *stream) finish() {
	s.stop()
	<-s.done
}

// stored returns how often each measurement of the hall is in the book.
func (p *process) stored(tb testing.TB, key string) map[string]int {
	tb.Helper()
	found := map[string]int{}
	for path := "/v1/rigs/hall/measurements?page_size=200"; ; {
		page := p.must(tb, key, http.MethodGet, path, nil)
		for _, item := range page["items"].([]any) {
			found[item.(map[string]any)["client_id"].(string)]++
		}
		next, ok := page["next"].(string)
		if !ok {
			return found
		}
		path = "/v1/rigs/hall/measurements?page_size=200&after=" + next
	}
}

// checkStored makes sure that every acknowledged measurement is there once,
// and that sending all of them again adds none twice.
func (p *process) checkStored(tb testing.TB, key string, s *stream) {
	tb.Helper()
	before := p.stored(tb, key)
	for id := range s.acknowledged {
		if before[id] != 1 {
			tb.Errorf("acknowledged measurement %s is %d times in the book, want once", id, before[id])
		}
	}
	for _, id := range s.sent {
		p.must(tb, key, http.MethodPost, "/v1/rigs/hall/measurements", measurement(id, 5))
	}
	after := p.stored(tb, key)
	if len(after) != len(s.sent) {
		tb.Errorf("after sending all again the book has %d measurements, want %d", len(after), len(s.sent))
	}
	for id, n := range after {
		if n != 1 {
			tb.Errorf("measurement %s is %d times in the book after a resend, want once", id, n)
		}
	}
}

func TestKillingTheServiceLosesNothing(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	p := start(t, "serve", "--data", dir)
	key := say(t, "key", "create", "--data", dir, "--role", "admin")
	p.addHall(t, key)
	s := p.submit(t, key, 4)
	s.waitFor(t, 40)
	p.kill(t)
	s.finish()
	again := start(t, "serve", "--data", dir)
	again.checkStored(t, key, s)
}

func TestKillingPostgresLosesNothing(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	p := start(t, "serve", "--data", dir)
	key := say(t, "key", "create", "--data", dir, "--role", "admin")
	p.addHall(t, key)
	s := p.submit(t, key, 4)
	s.waitFor(t, 40)
	killPostmaster(t, dir)
	// The service starts its PostgreSQL again and goes on acknowledging.
	s.mu.Lock()
	before := len(s.acknowledged)
	s.mu.Unlock()
	s.waitFor(t, before+40)
	s.finish()
	p.checkStored(t, key, s)
}

func killPostmaster(tb testing.TB, dir string) {
	tb.Helper()
	text, err := os.ReadFile(filepath.Join(dir, "data", "postmaster.pid"))
	if err != nil {
		tb.Fatal(err)
	}
	pid, err := strconv.Atoi(strings.SplitN(string(text), "\n", 2)[0])
	if err != nil {
		tb.Fatal(err)
	}
	if err := syscall.Kill(pid, syscall.SIGKILL); err != nil {
		tb.Fatal(err)
	}
}

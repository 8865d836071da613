package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// asProgram makes the test binary behave as the program: the tests below start
// it as processes of their own, which can be killed.
const asProgram = "DELAYBOOK_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		main()
	}
	os.Exit(m.Run())
}

// A process is a running delaybook.
type process struct {
	cmd     *exec.Cmd
	address string
	rest    *bufio.Reader // standard output after its first line
	stderr  *output
}

// output gathers what a process writes.
type output struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (o *output) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.text.Write(p)
}

func (o *output) String() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.text.String()
}

// command prepares the program; it ends with the test.
func command(ctx context.Context, args ...string) (*exec.Cmd, *output) {
	cmd := exec.CommandContext(ctx, os.Args[0], args...)
	cmd.Env = append(os.Environ(), asProgram+"=1", "DATABASE_URL=")
	cmd.Cancel = func() error { return cmd.Process.Signal(syscall.SIGTERM) }
	cmd.WaitDelay = time.Minute
	errs := &output{}
	cmd.Stderr = errs
	return cmd, errs
}

// start runs serve or demo and waits until it says where it listens.
func start(tb testing.TB, args ...string) *process {
	tb.Helper()
	cmd, errs := command(tb.Context(), append(args, "--listen", "127.0.0.1:0")...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		tb.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		tb.Fatal(err)
	}
	p := &process{cmd: cmd, rest: bufio.NewReader(out), stderr: errs}
	tb.Cleanup(func() { p.end(tb) })
	line, err := p.rest.ReadString('\n')
	if err != nil {
		tb.Fatalf("%v said no address: %v\n%s", args, err, errs)
	}
	p.address = strings.TrimSpace(line)
	return p
}

// end stops the process as its owner would, if it still runs.
func (p *process) end(tb testing.TB) {
	tb.Helper()
	if p.cmd.ProcessState != nil {
		return
	}
	_ = p.cmd.Process.Signal(syscall.SIGTERM)
	_, _ = io.Copy(io.Discard, p.rest)
	_ = p.cmd.Wait()
}

// kill ends the process as a power cut would.
func (p *process) kill(tb testing.TB) {
	tb.Helper()
	if err := p.cmd.Process.Kill(); err != nil {
		tb.Fatal(err)
	}
	_ = p.cmd.Wait()
}

// say runs a command to its end and returns its standard output.
func say(tb testing.TB, args ...string) string {
	tb.Helper()
	cmd, errs := command(tb.Context(), args...)
	out, err := cmd.Output()
	if err != nil {
		tb.Fatalf("%v: %v\n%s", args, err, errs)
	}
	return strings.TrimSpace(string(out))
}

// folder returns a data folder that the server's own user may enter, which
// tb.TempDir is not.
func folder(tb testing.TB) string {
	tb.Helper()
	dir, err := os.MkdirTemp("", "delaybook-test-")
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { _ = os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o711); err != nil {
		tb.Fatal(err)
	}
	return filepath.Join(dir, "data")
}

// call makes one request and decodes the JSON answer.
func (p *process) call(ctx context.Context, key, method, path string, body any) (status int, answer map[string]any, err error) {
	text, err := json.Marshal(body)
	if err != nil {
		return 0, nil, err
	}
	request, err := http.NewRequestWithContext(ctx, method, "http://"+p.address+path, bytes.NewReader(text))
	if err != nil {
		return 0, nil, err
	}
	request.Header.Set("Authorization", "Bearer "+key)
	request.Header.Set("Content-Type", "application/json")
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return 0, nil, err
	}
	defer response.Body.Close()
	if err := json.NewDecoder(response.Body).Decode(&answer); err != nil {
		return response.StatusCode, nil, fmt.Errorf("%s %s: status %d: %w", method, path, response.StatusCode, err)
	}
	return response.StatusCode, answer, nil
}

// must makes a request that has to succeed.
func (p *process) must(tb testing.TB, key, method, path string, body any) map[string]any {
	tb.Helper()
	status, answer, err := p.call(tb.Context(), key, method, path, body)
	if err != nil || status >= 300 {
		tb.Fatalf("%s %s: status %d, %v, %v", method, path, status, answer, err)
	}
	return answer
}

// addHall describes a rig with one delay, as anybody would over HTTP.
func (p *process) addHall(tb testing.TB, admin string) {
	tb.Helper()
	type m = map[string]any
	p.must(tb, admin, http.MethodPost, "/v1/crews", m{"slug": "red-van", "name": "Red van"})
	p.must(tb, admin, http.MethodPost, "/v1/devices", m{
		"slug": "cam-a", "name": "Camera", "kind": "camera",
		"modes": []m{{"slug": "m", "format": "1080p29.97"}},
	})
	p.must(tb, admin, http.MethodPost, "/v1/devices", m{
		"slug": "mixer-s", "name": "Switcher", "kind": "video switcher",
		"modes":    []m{{"slug": "m", "format": "1080p29.97"}},
		"controls": []m{{"slug": "mic-1-delay", "signal": "sound", "unit": "frame", "min": 0, "max": 8, "step": 1}},
	})
	p.must(tb, admin, http.MethodPost, "/v1/rigs", m{
		"slug": "hall", "name": "Hall", "crew": "red-van", "frame_rate": "29.97",
		"chains": []m{
			{"slug": "cam-1", "signal": "picture", "stages": []m{{"device": "cam-a", "mode": "m"}, {"device": "mixer-s", "mode": "m"}}},
			{"slug": "lectern", "signal": "sound", "stages": []m{{
				"device": "mixer-s", "mode": "m",
				"controls": []m{{"control": "mic-1-delay", "name": "lectern-delay"}},
			}}},
		},
	})
}

// measurement is a clap of the hall.
func measurement(clientID string, frames float64) map[string]any {
	return map[string]any{
		"client_id": clientID, "picture": "cam-1", "sound": "lectern", "method": "clap",
		"readings": []map[string]any{{"frames": frames, "heard": "early"}},
		"settings": []map[string]any{{"control": "lectern-delay", "value": 0}},
	}
}

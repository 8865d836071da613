package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"delaybook/cmd/internal/analyst/cardtest"
	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/domain/recording"

	"github.com/google/go-cmp/cmp"
)

// upload sends a recording as a form.
func (p *process) upload(tb testing.TB, key, file string, fields map[string]string) map[string]any {
	tb.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		tb.Fatal(err)
	}
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for name, value := range fields {
		if err := form.WriteField(name, value); err != nil {
			tb.Fatal(err)
		}
	}
	part, err := form.CreateFormFile("file", filepath.Base(file))
	if err != nil {
		tb.Fatal(err)
	}
	if _, err := part.Write(data); err != nil {
		tb.Fatal(err)
	}
	if err := form.Close(); err != nil {
		tb.Fatal(err)
	}
	r, err := http.NewRequestWithContext(tb.Context(), http.MethodPost, "http://"+p.address+"/v1/rigs/hall/clips", &body)
	if err != nil {
		tb.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+key)
	r.Header.Set("Content-Type", form.FormDataContentType())
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		tb.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil || response.StatusCode != http.StatusCreated {
		tb.Fatalf("upload: %d %s %v", response.StatusCode, text, err)
	}
	var clip map[string]any
	if err := json.Unmarshal(text, &clip); err != nil {
		tb.Fatal(err)
	}
	return clip
}

// TestARecordingSurvivesAPowerCut: what was acknowledged is analysed by the next
// process, and gives the same as the command that needs no service.
func TestARecordingSurvivesAPowerCut(t *testing.T) {
	t.Parallel()
	native := decodertest.OpenNative(t, decoder.Limits{})
	file := cardtest.File(t, native, 166.9, 12)
	data := folder(t)
	args := []string{"serve", "--data", data, "--decoder", "ffmpeg"}
	p := start(t, args...)
	admin := say(t, "key", "create", "--role", "admin", "--data", data)
	p.addHall(t, admin)
	clip := p.upload(t, admin, file, map[string]string{"picture": "cam-1", "sound": "lectern", "settings": "lectern-delay=0"})
	p.kill(t)

	p = start(t, args...)
	path := "/v1/clips/" + clip["id"].(string)
	var done map[string]any
	for end := time.Now().Add(90 * time.Second); ; {
		if done = p.must(t, admin, http.MethodGet, path, nil); done["state"] != "queued" && done["state"] != "analysing" {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("the clip is still %v after the restart\n%s", done["state"], p.stderr)
		}
		time.Sleep(200 * time.Millisecond)
	}
	if done["state"] != "done" {
		t.Fatalf("the clip is %v: %v", done["state"], done)
	}
	var alone, served recording.Result
	if err := json.Unmarshal([]byte(say(t, "analyse", "--json", "--decoder", "ffmpeg", file)), &alone); err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(done["result"])
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &served); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(alone, served); diff != "" {
		t.Errorf("alone -, served +:\n%s", diff)
	}
	p.end(t)
	if !p.cmd.ProcessState.Success() {
		t.Errorf("it ended with %v\n%s", p.cmd.ProcessState, p.stderr)
	}
}

func TestAnalyse(t *testing.T) {
	t.Parallel()
	native := decodertest.OpenNative(t, decoder.Limits{})
	file := cardtest.File(t, native, -45, 10)
	said := say(t, "analyse", "--decoder", "ffmpeg", file)
	if !strings.HasPrefix(said, "sound late 4") || strings.Contains(said, "-4") || !strings.Contains(said, "30000/1001") {
		t.Errorf("analyse says\n%s", said)
	}
	words := filepath.Join(t.TempDir(), "words.mp4")
	if err := os.WriteFile(words, []byte("no recording"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args   []string
		code   int
		stderr string
		stdout string
	}{
		{[]string{words}, exitRefused, "unreadable", ""},
		{[]string{words, "--json"}, exitRefused, "unreadable", `"refused":{"code":"unreadable"`},
		{[]string{"/nowhere/at/all"}, exitRefused, "no such file", ""},
		{nil, exitUsage, "FILE [FILE2]", ""},
		{[]string{file, "--method", "guess"}, exitUsage, "neither clip nor tracks", ""},
		{[]string{file, file, "--method", "clip"}, exitUsage, "one file", ""},
		{[]string{file, "--segment", "9-3"}, exitUsage, "12.5-30", ""},
	} {
		cmd, errs := command(t.Context(), append([]string{"analyse", "--decoder", "ffmpeg"}, c.args...)...)
		out, err := cmd.Output()
		exit, failed := errors.AsType[*exec.ExitError](err)
		if !failed || exit.ExitCode() != c.code || !strings.Contains(errs.String(), c.stderr) || !strings.Contains(string(out), c.stdout) {
			t.Errorf("analyse %v: %v, stdout %q, stderr %q", c.args, err, out, errs)
		}
	}
}

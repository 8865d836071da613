package decoder_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
)

// A native program runs with nothing of this process but the file: a script in its place tells what it finds.
func TestNativeRunsConfined(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	const script = "#!/bin/sh\necho \"uid=$(/usr/bin/id -u) env=$(/usr/bin/env | /bin/grep -cv '^PWD=\\|^_=\\|^SHLVL=') cpu=$(ulimit -t) core=$(ulimit -c) memory=$(ulimit -v) file=$(/usr/bin/head -c 4 /dev/fd/3)\" >&2\nexit 1\n"
	for _, name := range []string{"ffmpeg", "ffprobe"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(script), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Chmod(filepath.Dir(folder), 0o755); err != nil { // the other user has to get at the program
		t.Fatal(err)
	}
	// Closed to others, so that the other user gets a copy.
	clip := filepath.Join(folder, "clip.wav")
	if err := os.WriteFile(clip, []byte("RIFF\x00\x00\x00\x00WAVE"), 0o600); err != nil {
		t.Fatal(err)
	}
	d, err := decoder.Open(decoder.Options{Native: filepath.Join(folder, "ffmpeg"), Limits: decoder.Limits{CPU: 6e9}})
	if err != nil {
		t.Fatal(err)
	}
	_, err = d.Probe(t.Context(), clip)
	refused := (*decoder.Error)(nil)
	if !errors.As(err, &refused) {
		t.Fatalf("error %v, want a refusal", err)
	}
	said := refused.Err.Error()
	for _, want := range []string{"env=0", "cpu=7", "core=0", "memory=786432", "file=RIFF"} {
		if !strings.Contains(said, want) {
			t.Errorf("the program finds %q, want %q", said, want)
		}
	}
	if os.Geteuid() == 0 && !strings.Contains(said, "uid=65534") {
		t.Errorf("started by root, the program finds %q, want it to be nobody", said)
	}
}

func TestOpenSaysHowToGetAProgram(t *testing.T) {
	t.Parallel()
	alone := filepath.Join(t.TempDir(), "ffmpeg")
	if err := os.WriteFile(alone, nil, 0o755); err != nil {
		t.Fatal(err)
	}
	for want, o := range map[string]decoder.Options{
		"go build ./cmd/delaybook-decode": {},
		"build it with":                   {Program: "/none/delaybook-decode"},
		"name the program ffmpeg":         {Native: "/none/ffmpeg"},
		"no ffprobe beside it":            {Native: alone},
	} {
		if _, err := decoder.Open(o); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
	if !decodertest.OpenNative(t, decoder.Limits{}).Native() || decodertest.Open(t, decoder.Limits{}).Native() {
		t.Error("a decoder does not know whether it is native")
	}
}

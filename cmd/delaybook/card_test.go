package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// runCard runs the command in this process.
func runCard(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	code = run(t.Context(), append([]string{"card"}, args...), func(string) string { return "" }, nil, &out, &errs)
	return code, out.String(), errs.String()
}

// TestCardWritesAFileAndItsList reads the file with FFmpeg, whose word on the
// streams is that of a player.
func TestCardWritesAFileAndItsList(t *testing.T) {
	t.Parallel()
	out := filepath.Join(t.TempDir(), "mine.MP4")
	code, stdout, stderr := runCard(t, "--rate", "24", "-o", out, "--decoder", "ffmpeg")
	list := strings.TrimSuffix(out, ".MP4") + ".csv"
	if code != exitDone || stdout != out+"\n"+list+"\n" {
		t.Fatalf("exit code %d, %q, %s", code, stdout, stderr)
	}
	if !strings.HasPrefix(stderr, "caution, flashes: ") || strings.Contains(stderr, "making the card") {
		t.Errorf("standard error, which is no terminal: %s", stderr)
	}
	truth, err := os.ReadFile(list)
	if err != nil || strings.Count(string(truth), "\r\n") != 61 {
		t.Errorf("the list is %.80q, %v", truth, err)
	}
	said, err := exec.CommandContext(t.Context(), "ffprobe", "-v", "error", "-show_entries", "stream=codec_name,r_frame_rate,nb_frames,channels,sample_rate",
		"-of", "compact", out).Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"codec_name=h264|r_frame_rate=24/1", "nb_frames=1485", "codec_name=aac|sample_rate=48000|channels=2"} { // 61.855 s * 24 = 1484.5
		if !strings.Contains(string(said), want) {
			t.Errorf("the file is %s, want %s", said, want)
		}
	}
}

func TestCardSaysWhatToSend(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--rate", "48"}, "23.976, 24, 25"},
		{[]string{"--container", "mkv"}, `"mov" or "mp4"`},
		{[]string{"-o", "card.avi"}, `"mov" or "mp4"`},
		{[]string{"-o", "card.mov", "--container", "mp4"}, "ends in .mp4"},
		{[]string{"card.mov"}, "unknown word"},
	} {
		if code, _, stderr := runCard(t, c.args...); code != exitUsage || !strings.Contains(stderr, c.want) {
			t.Errorf("%v: exit code %d, %s", c.args, code, stderr)
		}
	}
	code, stdout, stderr := runCard(t, "-o", filepath.Join(folder, "none", "card.mov"), "--decoder", "ffmpeg")
	if code != exitRefused || stdout != "" || !strings.Contains(stderr, "no such file or directory") {
		t.Errorf("into a folder that is not: exit code %d, %s", code, stderr)
	}
	if code, _, stderr := runCard(t, "-o", filepath.Join(folder, "card.mov"), "--decoder", "no-such-program"); code != exitRefused || !strings.Contains(stderr, "no-such-program") {
		t.Errorf("without a decoder: exit code %d, %s", code, stderr)
	}
	if entries, err := os.ReadDir(folder); err != nil || len(entries) > 0 {
		t.Errorf("what failed left %v, %v", entries, err)
	}
}

// TestTheServiceMakesTheCardOnce asks a running service for a file, and again
// after a restart on the same data folder.
func TestTheServiceMakesTheCardOnce(t *testing.T) {
	t.Parallel()
	data := folder(t)
	var tags []string
	for range 2 {
		p := start(t, "serve", "--data", data, "--decoder", "ffmpeg")
		tag, size := p.media(t.Context(), t)
		if size < 11_000_000 {
			t.Errorf("the file has %d bytes", size)
		}
		tags = append(tags, tag)
		p.end(t)
	}
	if tags[0] != tags[1] || tags[0] == "" {
		t.Errorf("the file was made twice: %v", tags)
	}
}

// media downloads a file of the card.
func (p *process) media(ctx context.Context, t *testing.T) (tag string, size int64) {
	t.Helper()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+p.address+"/v1/card/media?rate=24", nil)
	if err != nil {
		t.Fatal(err)
	}
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	size, err = io.Copy(io.Discard, response.Body)
	if err := errors.Join(err, response.Body.Close()); err != nil || response.StatusCode != http.StatusOK {
		t.Fatalf("status %d, %v\n%s", response.StatusCode, err, p.stderr)
	}
	return response.Header.Get("ETag"), size
}

package api_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"delaybook/api"
	"delaybook/domain/card"
	"delaybook/domain/timebase"
)

// A drawer is a shelf whose files are texts.
type drawer struct {
	dir  string
	fail error
}

func (d drawer) path(rate timebase.Rate, c card.Container) string {
	return filepath.Join(d.dir, card.FileName(rate, c))
}

func (d drawer) Open(ctx context.Context, rate timebase.Rate, c card.Container) (*os.File, error) {
	if d.fail != nil {
		return nil, d.fail
	}
	path := d.path(rate, c)
	if _, err := os.Stat(path); err != nil {
		if err := os.WriteFile(path, []byte("pictures at "+rate.Label()), 0o600); err != nil {
			return nil, err
		}
	}
	return os.Open(path)
}

func (d drawer) Size(rate timebase.Rate, c card.Container) (int64, bool) {
	info, err := os.Stat(d.path(rate, c))
	if err != nil {
		return 0, false
	}
	return info.Size(), true
}

func cardSite(t *testing.T) *site {
	t.Helper()
	s := newSite(t)
	s.shelf = drawer{dir: t.TempDir()}
	s.serve()
	return s
}

// TestTheCardNeedsNoKey reads the card as anybody can.
func TestTheCardNeedsNoKey(t *testing.T) {
	t.Parallel()
	s := cardSite(t)
	got := s.get("", "/v1/card").want(http.StatusOK)
	for path, want := range map[string]any{
		"sequence.cycle_ms": 12371.0, "sequence.intervals_ms.11": 701.0, "sequence.most_in_second": 2.0, "sequence.tone_hz": 2000.0,
		"files.0.rate": "24000/1001", "files.0.bytes": nil, "files.6.media": "/v1/card/media?container=mov&rate=29.97",
		"files.6.duration_s": 61.8618, "cautions.0.code": "flashes", "phases.0.use": "locked", "choices.0.camera": "23.976",
	} {
		if value := got.at(path); value != want {
			t.Errorf("%s is %v, want %v", path, value, want)
		}
	}
	if n := len(got.at("files").([]any)); n != 16 {
		t.Errorf("%d files, want 8 rates in 2 containers", n)
	}
	s.get("", "/v1/card", "If-None-Match", got.header.Get("ETag")).want(http.StatusNotModified)
	s.get("", got.at("files.6.media").(string)).want(http.StatusOK)
	again := s.get("", "/v1/card", "If-None-Match", got.header.Get("ETag")).want(http.StatusOK)
	if again.at("files.6.bytes") != 17.0 {
		t.Errorf("a file that is made has %v bytes", again.at("files.6.bytes"))
	}
	text := string(s.get("", "/v1/card", "Accept", "text/plain").want(http.StatusOK).body)
	if flashes, films := strings.Index(text, "epilepsy"), strings.Index(text, "Which file"); flashes < 0 || films < flashes {
		t.Errorf("the text does not warn before anything else:\n%s", text)
	}
	s.get("", "/v1/card?format=csv").refuses(http.StatusUnprocessableEntity, "format", "json, text")
}

// TestAFileIsServedInParts: RFC 9110, 14.2 (ranges), 8.8.3 (strong tags), and RFC 6266 (names).
func TestAFileIsServedInParts(t *testing.T) {
	t.Parallel()
	s := cardSite(t)
	const path = "/v1/card/media?rate=30000/1001&container=mp4"
	whole := s.get("", path).want(http.StatusOK)
	tag := whole.header.Get("ETag")
	for name, want := range map[string]string{
		"Content-Type": "video/mp4", "Accept-Ranges": "bytes", "Content-Length": "17",
		"Content-Disposition": `attachment; filename="flash-and-beep-v1-29.97.mp4"`,
	} {
		if got := whole.header.Get(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	if string(whole.body) != "pictures at 29.97" || !strings.HasPrefix(tag, `"`) {
		t.Errorf("%s with tag %s", whole.body, tag)
	}
	part := s.get("", path, "Range", "bytes=12-", "If-Range", tag).want(http.StatusPartialContent)
	if string(part.body) != "29.97" || part.header.Get("Content-Range") != "bytes 12-16/17" {
		t.Errorf("a part is %q, %s", part.body, part.header.Get("Content-Range"))
	}
	if other := s.get("", path, "Range", "bytes=12-", "If-Range", `"other"`).want(http.StatusOK); len(other.body) != 17 {
		t.Errorf("a part of another file is %q", other.body)
	}
	s.get("", path, "If-None-Match", tag).want(http.StatusNotModified)
	beyond := s.get("", path, "Range", "bytes=99-").want(http.StatusRequestedRangeNotSatisfiable)
	if beyond.header.Get("Content-Range") != "bytes */17" || beyond.header.Get("Content-Type") != "application/problem+json" {
		t.Errorf("beyond the end: %v %s", beyond.header, beyond.body)
	}
	if stale := s.get("", path, "If-Match", `"other"`).want(http.StatusPreconditionFailed); !strings.Contains(stale.at("detail").(string), "beginning") {
		t.Errorf("another file: %s", stale.body)
	}
	if got := s.get("", "/v1/card/media?rate=29.97").want(http.StatusOK).header.Get("Content-Type"); got != "video/quicktime" {
		t.Errorf("without a container it comes as %s", got)
	}
}

func TestFilesThatThereAreNot(t *testing.T) {
	t.Parallel()
	s := cardSite(t)
	s.get("", "/v1/card/media?rate=48&container=mkv").refuses(http.StatusUnprocessableEntity, "rate", "23.976, 24, 25")
	s.get("", "/v1/card/media?rate=48&container=mkv").refuses(http.StatusUnprocessableEntity, "container", "mp4")
	s.get("", "/v1/card/media?rate=25&size=big").refuses(http.StatusUnprocessableEntity, "size", "rate, container")
	s.get("", "/v1/card/truth").refuses(http.StatusUnprocessableEntity, "rate", "23.976, 24, 25")
	for _, c := range []struct {
		shelf  drawer
		status int
		says   string
	}{
		{drawer{fail: api.ErrMaking}, http.StatusServiceUnavailable, "Ask again"},
		{drawer{fail: errors.New("secret path")}, http.StatusInternalServerError, "not carried out"},
	} {
		s.shelf = c.shelf
		s.serve()
		s.unwatched() // no document has failures of our own
		got := s.get("", "/v1/card/media?rate=25").want(c.status)
		if (got.header.Get("Retry-After") != "") != (c.status == http.StatusServiceUnavailable) {
			t.Errorf("%d with Retry-After %q", c.status, got.header.Get("Retry-After"))
		}
		if !strings.Contains(string(got.body), c.says) || bytes.Contains(got.body, []byte("secret")) {
			t.Errorf("a failure says %s", got.body)
		}
	}
	s.shelf = nil
	s.serve()
	if got := s.get("", "/v1/card/media?rate=25").want(http.StatusNotImplemented); !strings.Contains(got.at("type").(string), "no-encoder") {
		t.Errorf("without a media program: %s", got.body)
	}
	s.get("", "/v1/card").want(http.StatusOK)
}

// TestTheTruthIsTheSameInBoth compares the table with the JSON.
func TestTheTruthIsTheSameInBoth(t *testing.T) {
	t.Parallel()
	s := cardSite(t)
	list := s.get("", "/v1/card/truth?rate=59.94").want(http.StatusOK)
	events := list.at("events").([]any)
	if list.at("frames") != 3708.0 || list.at("sample_rate") != 48000.0 || len(events) != 60 || list.at("events.0.sample") != 19219.0 {
		t.Errorf("the list is %.300s", list.body)
	}
	rows, err := csv.NewReader(bytes.NewReader(s.get("", "/v1/card/truth?rate=59.94&format=csv").want(http.StatusOK).body)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 61 || strings.Join(rows[0], " ") != "event frame sample picture_s sound_s" ||
		strings.Join(rows[1], " ") != "1 24 19219 0.400400000 0.400395833" { // 24 frames of 1001/60000 s; 19219/48000 s
		t.Errorf("the table is %v", rows[:2])
	}
	if last := events[59].(m); rows[60][1] != "3690" || last["frame"] != 3690.0 { // 61554 ms are 3689.55 frames
		t.Errorf("the last event is %v and %v", rows[60], last)
	}
}

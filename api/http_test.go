package api_test

import (
	"net/http"
	"strings"
	"testing"
)

// TestTagsAreOpaque sends tags that look like the right one (RFC 9110, 8.8.3
// and 13.1.1) and conditions that a write must not pass (13.1.2).
func TestTagsAreOpaque(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	tag := s.get(editor, "/v1/rigs/hall").want(http.StatusOK).header.Get("ETag")
	number := tag[1 : len(tag)-1]
	for _, match := range []string{number, `"0` + number + `"`, `"` + number, "*, " + `"x"`, ","} {
		if got := s.put(editor, "/v1/rigs/hall", hall(), "If-Match", match).status; got != http.StatusPreconditionFailed {
			t.Errorf("If-Match %s: got %d, want 412", match, got)
		}
	}
	if got := s.put(editor, "/v1/rigs/hall", hall(), "If-Match", tag, "If-None-Match", "*").status; got != http.StatusPreconditionFailed {
		t.Errorf("a write with If-None-Match: got %d, want 412", got)
	}
	s.put(editor, "/v1/rigs/hall", hall(), "If-Match", tag).want(http.StatusOK)
}

func TestACursorBelongsToItsList(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	reader := s.key("reader", "red-van")
	next := s.get(reader, "/v1/devices?page_size=1").want(http.StatusOK).at("next").(string)
	s.get(reader, "/v1/devices?after="+next).want(http.StatusOK)
	for _, path := range []string{"/v1/latencies?after=" + next, "/v1/devices?after=", "/v1/devices?after=AAAA", "/v1/devices?after=" + next + "A"} {
		s.get(reader, path).refuses(http.StatusUnprocessableEntity, "after", "page before")
	}
}

func TestHeadersThatAreNotWhatTheySeem(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	s.unwatched()
	editor := s.key("editor", "red-van")
	for _, key := range []string{`"open`, `"a"b`, `""`, "tab\there"} {
		s.post(editor, "/v1/rigs", hall(), "Idempotency-Key", key).refuses(http.StatusUnprocessableEntity, "Idempotency-Key", "quoted or bare")
	}
	s.post(editor, "/v1/rigs", hall(), "Content-Type", "application/json; charset=latin1").want(http.StatusUnsupportedMediaType)
	if got := s.get("dlb_x_y", "/v1/rigs").want(http.StatusUnauthorized).header.Get("WWW-Authenticate"); got != `Bearer error="invalid_token"` {
		t.Errorf("a bad key is told %q", got)
	}
	s.send(editor, http.MethodPost, "/v1/rigs", []byte(`{"slug":5, oops`)).want(http.StatusBadRequest)
}

func TestConversionIsAsDocumented(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	key := s.key("reader", "")
	got := s.get(key, "/v1/convert?frames=5&rate=29.97").want(http.StatusOK)
	if got.at("samples.nearest") != 8008.0 { // common practice, no source: 5 frames at 30000/1001 are 8008 samples at 48 kHz
		t.Errorf("five frames: %s", got.body)
	}
	s.get(key, "/v1/convert?ms=100").want(http.StatusOK)
	s.get(key, "/v1/convert?frames=5&rate=30.5").refuses(http.StatusUnprocessableEntity, "rate", "61/2")
	s.unwatched() // the document does not describe itself
	for _, open := range []string{"/openapi.json", "/docs/", "/docs/init.js", "/healthz"} {
		s.get("", open).want(http.StatusOK)
	}
}

// TestProblemsAreExplained follows the type of a problem, as a person would.
func TestProblemsAreExplained(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.unwatched() // a page, not of the document
	for path, key := range map[string]string{"/v1/devices": "", "/v1/devices/none": s.admin, "/v1/devices?colour=red": s.admin} {
		kind := s.get(key, path).at("type").(string)
		page, fragment, _ := strings.Cut(kind, "#")
		body := string(s.get("", page).want(http.StatusOK).body)
		if !strings.Contains(body, `<dt id="`+fragment+`">`) {
			t.Errorf("%s: nothing is said at %s", path, kind)
		}
	}
	if body := string(s.get("", "/docs/problems").body); strings.Contains(body, "<dd></dd>") {
		t.Errorf("a kind of problem has no remedy:\n%s", body)
	}
}

// TestMadeUpRequestsMakeNoSeries keeps the number of series bounded.
func TestMadeUpRequestsMakeNoSeries(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.unwatched()
	for _, word := range []string{"CONJURE", "CONVOKE"} {
		r, err := http.NewRequestWithContext(t.Context(), word, s.url+"/v1/"+word, nil)
		if err != nil {
			t.Fatal(err)
		}
		response, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		if err := response.Body.Close(); err != nil {
			t.Fatal(err)
		}
	}
	body := string(s.get(s.admin, "/metrics").want(http.StatusOK).body)
	if strings.Contains(body, "CON") || !strings.Contains(body, `method="other"`) {
		t.Errorf("series:\n%s", body)
	}
}

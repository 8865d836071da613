package cardpage_test

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"delaybook/api/cardpage"
)

func handler(tb testing.TB) http.Handler {
	tb.Helper()
	h, err := cardpage.Handler()
	if err != nil {
		tb.Fatal(err)
	}
	return h
}

func get(tb testing.TB, method, path string, headers ...string) *httptest.ResponseRecorder {
	tb.Helper()
	r := httptest.NewRequestWithContext(tb.Context(), method, path, nil)
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	handler(tb).ServeHTTP(w, r)
	return w
}

// TestCautionsComeFirst: nobody reaches a file or the start before them.
func TestCautionsComeFirst(t *testing.T) {
	t.Parallel()
	body := get(t, http.MethodGet, "/card?camera=25&screen=60").Body.String()
	last := 0
	for _, text := range []string{
		"photosensitive epilepsy", "Success Criterion 2.3.1", "85 dBA", "98-126", "howls", // cautions with their sources
		"Play a file, if you can", "The 60 file.", "/v1/card/media?container=mov&amp;rate=60", // then files, saying why
		"Or play it here", "can not know", "Bluetooth", "Start flashing", "So that the number",
	} {
		at := strings.Index(body[last:], text)
		if at < 0 {
			t.Fatalf("%q is missing or too early", text)
		}
		last += at
	}
	if strings.Contains(body, "style=") || strings.Contains(body, "onclick") || strings.Contains(body, "<style") {
		t.Error("the page has something inline, which its policy forbids")
	}
}

func TestWhichFile(t *testing.T) {
	t.Parallel()
	for query, want := range map[string]string{
		"camera=25&screen=60":    "The 60 file.",
		"camera=25&screen=50":    "None is good; least bad: the ",
		"camera=fast&screen=60":  "camera&#39;s rate can not be read",
		"camera=25&screen=":      "screen&#39;s rate can not be read",
		"camera=25&screen=100/3": "No file is shown evenly",
	} {
		if body := get(t, http.MethodGet, "/card?"+query).Body.String(); !strings.Contains(body, want) || !strings.Contains(body, `class="answer" role="status"`) {
			t.Errorf("%s: the page does not say %q", query, want)
		}
	}
	if body := get(t, http.MethodGet, "/card").Body.String(); strings.Contains(body, `role="status">The`) || strings.Contains(body, "<strong>") {
		t.Error("an answer to no question")
	}
	if body := get(t, http.MethodGet, "/card?camera=%3Cscript%3E&screen=60").Body.String(); strings.Contains(body, "<script>") {
		t.Error("the page repeats what it was sent")
	}
}

func TestServing(t *testing.T) {
	t.Parallel()
	for path, kind := range map[string]string{
		"/card": "text/html; charset=utf-8", "/card/card.js": "text/javascript; charset=utf-8", "/card/card.css": "text/css; charset=utf-8",
	} {
		w := get(t, http.MethodGet, path)
		if w.Code != http.StatusOK || w.Header().Get("Content-Type") != kind || !strings.Contains(w.Header().Get("Content-Security-Policy"), "default-src 'none'") {
			t.Errorf("%s: %d %v", path, w.Code, w.Header())
		}
		if again := get(t, http.MethodGet, path, "If-None-Match", w.Header().Get("ETag")); again.Code != http.StatusNotModified || again.Body.Len() != 0 {
			t.Errorf("%s again: %d", path, again.Code)
		}
	}
	for path, want := range map[string]int{"/card/": http.StatusNotFound, "/card/card.html": http.StatusNotFound, "/card/../card.js": http.StatusNotFound} {
		if got := get(t, http.MethodGet, path).Code; got != want {
			t.Errorf("%s: %d, want %d", path, got, want)
		}
	}
	if w := get(t, http.MethodPost, "/card"); w.Code != http.StatusMethodNotAllowed || w.Header().Get("Allow") != "GET, HEAD" {
		t.Errorf("POST: %d %v", w.Code, w.Header())
	}
}

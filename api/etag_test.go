package api_test

import (
	"net/http"
	"strings"
	"testing"
)

// TestConditionalWrites holds If-Match against RFC 9110: 13.1.1 (strong
// comparison; a star matches whatever there is), and against RFC 6585, 3 for 428.
func TestConditionalWrites(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	tag := s.get(editor, "/v1/rigs/hall").want(http.StatusOK).header.Get("ETag")
	change := hall()
	put := func(match ...string) int {
		change["name"] = "Hall " + strings.Join(match, "")
		return s.put(editor, "/v1/rigs/hall", change, match...).status
	}
	for _, c := range []struct {
		match []string
		want  int
	}{
		{nil, http.StatusPreconditionRequired},
		{[]string{"If-Match", `"1"`}, http.StatusPreconditionFailed},
		{[]string{"If-Match", "W/" + tag}, http.StatusPreconditionFailed},
		{[]string{"If-Match", `"1", ` + tag}, http.StatusOK},
		{[]string{"If-Match", tag}, http.StatusPreconditionFailed}, // the one before changed it
		{[]string{"If-Match", "*"}, http.StatusOK},
	} {
		if got := put(c.match...); got != c.want {
			t.Errorf("PUT with %v: got %d, want %d", c.match, got, c.want)
		}
	}
}

func TestWhoHasItDoesNotGetItAgain(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	reader, other := s.key("reader", "red-van"), s.key("reader", "blue-van")
	for _, path := range []string{"/v1/rigs/hall", "/v1/rigs/hall/delays", "/v1/rigs/hall/offsets", "/v1/devices", "/v1/latencies"} {
		tag := s.get(reader, path).want(http.StatusOK).header.Get("ETag")
		for header, want := range map[string]int{
			tag: http.StatusNotModified, "W/" + tag: http.StatusNotModified, `"x", ` + tag: http.StatusNotModified, `"x"`: http.StatusOK,
		} {
			if got := s.get(reader, path, "If-None-Match", header).status; got != want {
				t.Errorf("%s with If-None-Match %s: got %d, want %d", path, header, got, want)
			}
		}
	}
	tag := s.get(reader, "/v1/rigs/hall/delays").header.Get("ETag")
	if got := s.get(reader, "/v1/rigs/hall/delays?explain=1").header.Get("ETag"); got == tag {
		t.Error("another query has the same tag")
	}
	if got := s.get(reader, "/v1/rigs/hall/delays", "Accept", "text/csv", "If-None-Match", tag).status; got == http.StatusNotModified {
		t.Error("another media type has the same tag")
	}
	if got := s.get(other, "/v1/rigs/hall/delays", "If-None-Match", "*").status; got != http.StatusNotFound {
		t.Errorf("what one may not see, with a star: got %d, want 404", got)
	}
	s.post(s.key("tech", "red-van"), "/v1/rigs/hall/measurements", clap(5, "early")).want(http.StatusCreated)
	s.get(reader, "/v1/rigs/hall/delays", "If-None-Match", tag).want(http.StatusOK)
}

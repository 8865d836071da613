package api_test

import (
	"net/http"
	"strings"
	"testing"
)

// TestHeadIsGetWithoutABody: RFC 9110, 9.3.2: the same header fields as GET
// would have, those that describe the body too.
func TestHeadIsGetWithoutABody(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	key := s.key("reader", "red-van")
	for _, path := range []string{"/v1/rigs", "/v1/rigs/hall", "/v1/rigs/hall/delays?format=csv&force=1", "/v1/rigs/cellar", "/v1/devices/cam-a"} {
		get, head := s.send(key, http.MethodGet, path, nil), s.sendBare(key, http.MethodHead, path, nil)
		if head.status != get.status || len(head.body) != 0 {
			t.Errorf("HEAD %s: got %d and %d bytes, want %d and none", path, head.status, len(head.body), get.status)
		}
		for _, name := range []string{"Content-Type", "ETag"} {
			if got, want := head.header.Get(name), get.header.Get(name); got != want {
				t.Errorf("HEAD %s: %s %q, want %q", path, name, got, want)
			}
		}
	}
}

// TestProblemsAreNotKept: the tag of an answer must not stand on the problem
// that came instead.
func TestProblemsAreNotKept(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	key := s.key("reader", "red-van")
	for _, path := range []string{"/v1/rigs/cellar/measurements", "/v1/rigs/hall/delays?format=text", "/v1/rigs/hall?at=99"} {
		a := s.send(key, http.MethodGet, path, nil)
		if a.status < 400 || a.header.Get("ETag") != "" || a.header.Get("Cache-Control") != "no-store" {
			t.Errorf("GET %s: got %d, ETag %q, Cache-Control %q", path, a.status, a.header.Get("ETag"), a.header.Get("Cache-Control"))
		}
	}
}

// TestWrongMethods: RFC 9110, 15.5.6 wants Allow with a 405.
func TestWrongMethods(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	for path, allowed := range map[string]string{
		"/v1/rigs": "GET HEAD POST", "/v1/rigs/hall": "GET HEAD PUT DELETE", "/v1/measurements": "POST", "/v1/rigs/hall/settings": "GET HEAD PUT",
	} {
		a := s.sendBare(s.admin, http.MethodPatch, path, nil).want(http.StatusMethodNotAllowed)
		for method := range strings.SplitSeq(allowed, " ") {
			if !strings.Contains(a.header.Get("Allow"), method) {
				t.Errorf("PATCH %s: Allow %q lacks %s", path, a.header.Get("Allow"), method)
			}
		}
		if got := a.header.Get("Content-Type"); got != "application/problem+json" {
			t.Errorf("PATCH %s: content type %q", path, got)
		}
	}
}

// TestNamesInPathsAreUnescaped: an asset tag may hold anything that is printed on it.
func TestNamesInPathsAreUnescaped(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	s.post(editor, "/v1/devices/cam-a/units", m{"tag": "C/14 b%"}).want(http.StatusCreated)
	s.send(editor, http.MethodDelete, "/v1/devices/cam-a/units/C%2F14%20b%25", nil).want(http.StatusOK)
	s.get(editor, "/v1/rigs/red%2Dvan.hall").want(http.StatusOK)
	s.sendBare(editor, http.MethodGet, "/v1/rigs/%00", nil).want(http.StatusNotFound)
}

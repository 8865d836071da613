package openapi_test

import (
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"delaybook/openapi"
)

func docs(tb testing.TB) http.Handler {
	tb.Helper()
	handler, err := openapi.Docs("/docs")
	if err != nil {
		tb.Fatal(err)
	}
	return handler
}

func get(tb testing.TB, path string) *httptest.ResponseRecorder {
	tb.Helper()
	rec := httptest.NewRecorder()
	docs(tb).ServeHTTP(rec, httptest.NewRequestWithContext(tb.Context(), http.MethodGet, path, nil))
	return rec
}

func TestDocsServesTheFilesOfThePage(t *testing.T) {
	t.Parallel()
	media := map[string]string{
		"/docs/":                     "text/html; charset=utf-8",
		"/docs/index.html":           "text/html; charset=utf-8",
		"/docs/init.js":              "text/javascript; charset=utf-8",
		"/docs/swagger-ui-bundle.js": "text/javascript; charset=utf-8",
		"/docs/swagger-ui.css":       "text/css; charset=utf-8",
	}
	for path, want := range media {
		rec := get(t, path)
		if rec.Code != http.StatusOK || rec.Body.Len() == 0 {
			t.Errorf("GET %s: status %d, %d bytes", path, rec.Code, rec.Body.Len())
		}
		headers := map[string]string{
			"Content-Type":            want,
			"Content-Security-Policy": openapi.DocsPolicy,
			"X-Content-Type-Options":  "nosniff",
			"Referrer-Policy":         "no-referrer",
			"Cache-Control":           "no-cache",
		}
		for name, want := range headers {
			if got := rec.Header().Get(name); got != want {
				t.Errorf("GET %s: %s is %q, want %q", path, name, got, want)
			}
		}
	}
}

func TestDocsServesNothingElse(t *testing.T) {
	t.Parallel()
	// The first five are in the module that brings Swagger UI; its own index.html, for one, has inline styles.
	for _, path := range []string{
		"/docs/swagger-ui-bundle.js.map", "/docs/swagger-ui-es-bundle.js", "/docs/oauth2-redirect.html",
		"/docs/swagger-initializer.js", "/docs/favicon-16x16.png",
		"/docs/docs/index.html", "/docs/../openapi.json", "/docsx/", "/", "/init.js",
	} {
		if rec := get(t, path); rec.Code != http.StatusNotFound {
			t.Errorf("GET %s: status %d, want 404", path, rec.Code)
		}
	}
}

func TestDocsRedirectsToItsFolder(t *testing.T) {
	t.Parallel()
	rec := get(t, "/docs")
	if rec.Code != http.StatusPermanentRedirect || rec.Header().Get("Location") != "docs/" {
		t.Errorf("GET /docs: status %d to %q, want 308 to docs/", rec.Code, rec.Header().Get("Location"))
	}
}

func TestDocsAnswersUnchangedFilesWith304(t *testing.T) {
	t.Parallel()
	req := httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/docs/swagger-ui.css", nil)
	req.Header.Set("If-None-Match", get(t, "/docs/swagger-ui.css").Header().Get("ETag"))
	rec := httptest.NewRecorder()
	docs(t).ServeHTTP(rec, req)
	if rec.Code != http.StatusNotModified || rec.Body.Len() != 0 {
		t.Errorf("status %d with %d bytes, want 304 without a body", rec.Code, rec.Body.Len())
	}
	if get(t, "/docs/init.js").Header().Get("ETag") == req.Header.Get("If-None-Match") {
		t.Error("two files have one ETag")
	}
}

func TestDocsIsOnlyRead(t *testing.T) {
	t.Parallel()
	rec := httptest.NewRecorder()
	docs(t).ServeHTTP(rec, httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/docs/", nil))
	if rec.Code != http.StatusMethodNotAllowed || rec.Header().Get("Allow") != "GET, HEAD" {
		t.Errorf("POST: status %d, Allow %q", rec.Code, rec.Header().Get("Allow"))
	}
}

// The policy would stop each of these in the browser, and the page with it.
func TestDocsPageNeedsNothingThePolicyForbids(t *testing.T) {
	t.Parallel()
	forbidden := map[string]*regexp.Regexp{
		"an outside address": regexp.MustCompile(`(?i)(https?:)?//[a-z0-9]`),
		"an inline script":   regexp.MustCompile(`(?i)<script(\s[^>]*)?>[^<]`),
		"an inline style":    regexp.MustCompile(`(?i)<style|\sstyle=`),
		"an inline handler":  regexp.MustCompile(`(?i)\son[a-z]+=`),
		"an eval":            regexp.MustCompile(`\beval\(|new Function`),
	}
	for _, path := range []string{"/docs/", "/docs/init.js"} {
		for what, pattern := range forbidden {
			if found := pattern.FindString(get(t, path).Body.String()); found != "" {
				t.Errorf("%s has %s: %q", path, what, found)
			}
		}
	}
	page := get(t, "/docs/").Body.String()
	references := regexp.MustCompile(`(?:src|href)="([^"]*)"`).FindAllStringSubmatch(page, -1)
	if len(references) == 0 {
		t.Fatal("the page refers to no file")
	}
	for _, reference := range references {
		name := reference[1]
		if name == "data:," || name == "../openapi.json" {
			continue
		}
		if rec := get(t, "/docs/"+name); rec.Code != http.StatusOK {
			t.Errorf("the page refers to %s: status %d", name, rec.Code)
		}
	}
	if strings.Contains(openapi.DocsPolicy, "unsafe") {
		t.Errorf("policy %q allows what is unsafe", openapi.DocsPolicy)
	}
}

func TestDocumentIsServedAsOpenAPI3(t *testing.T) {
	t.Parallel()
	if !strings.Contains(string(openapi.Document()), `"openapi": "3.0.3"`) {
		t.Errorf("document begins %.80s", openapi.Document())
	}
}

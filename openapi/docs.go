package openapi

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"

	swaggerFiles "github.com/swaggo/files/v2"
)

// DocsPolicy is the content security policy of the documentation page: nothing from elsewhere, nothing inline.
const DocsPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; " +
	"connect-src 'self'; font-src 'self'; base-uri 'none'; frame-ancestors 'none'"

//go:embed docs/index.html docs/init.js
var page embed.FS

// docsFiles are all that the page consists of; the module that brings Swagger UI holds far more.
var docsFiles = []struct {
	name, media string
	from        fs.FS
	stored      string
}{
	{"index.html", "text/html; charset=utf-8", page, "docs/index.html"},
	{"init.js", "text/javascript; charset=utf-8", page, "docs/init.js"},
	{"swagger-ui-bundle.js", "text/javascript; charset=utf-8", swaggerFiles.FS, "swagger-ui-bundle.js"},
	{"swagger-ui.css", "text/css; charset=utf-8", swaggerFiles.FS, "swagger-ui.css"},
}

type docsFile struct {
	media, etag string
	body        []byte
}

// Docs serves the documentation page below prefix, a path such as "/docs". The page reads the document from
// openapi.json beside prefix and asks nothing of any other host.
//
// The handler expects the whole path of the request. It answers prefix itself with a redirect to prefix + "/",
// and 404 to everything that the page does not need.
func Docs(prefix string) (http.Handler, error) {
	files := map[string]docsFile{}
	for _, f := range docsFiles {
		body, err := fs.ReadFile(f.from, f.stored)
		if err != nil {
			return nil, fmt.Errorf("documentation page: %w", err)
		}
		sum := sha256.Sum256(body)
		files[f.name] = docsFile{media: f.media, etag: `"` + hex.EncodeToString(sum[:8]) + `"`, body: body}
	}
	files[""] = files["index.html"]
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name, below := strings.CutPrefix(r.URL.Path, prefix+"/")
		file, known := files[name]
		switch {
		case r.URL.Path == prefix:
			// Relative, because a proxy may have cut a path off in front of prefix.
			w.Header().Set("Location", path.Base(prefix)+"/")
			w.WriteHeader(http.StatusPermanentRedirect)
		case !below || !known:
			http.NotFound(w, r)
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, "the documentation is only read: send GET", http.StatusMethodNotAllowed)
		default:
			file.serve(w, r)
		}
	}), nil
}

func (f docsFile) serve(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Type", f.media)
	h.Set("Content-Security-Policy", DocsPolicy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cache-Control", "no-cache")
	h.Set("ETag", f.etag)
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(f.body))
}

package pages

import (
	"fmt"
	"net/http"
	"strings"

	"delaybook/domain"

	"github.com/go-json-experiment/json"
	"github.com/labstack/echo/v4"
)

// sessionTag says in each page to whose session it belongs: the service worker
// keeps pages apart by it.
const sessionTag = "Session-Tag"

const noSession = "none"

// tag marks an answer as one to the session.
func (v *visit) tag() {
	tag := noSession
	if v.session != nil {
		tag = v.session.Prefix
	}
	v.Response().Header().Set(sessionTag, tag)
}

// wantsJSON reports whether a script asks, which is answered with problems
// instead of pages that explain them.
func (v *visit) wantsJSON() bool {
	accept := v.Request().Header.Get(echo.HeaderAccept)
	return strings.Contains(accept, echo.MIMEApplicationJSON) && !strings.Contains(accept, echo.MIMETextHTML)
}

// alone are assets that no page without a network needs.
var alone = map[string]bool{"worker.js": true, "icon-512.png": true}

// serviceWorker sends the script that makes pages work without a network. Its
// text changes with the version, by which browsers notice a new one.
func (p *Pages) serviceWorker(c echo.Context) error {
	shell := []string{"/waiting", "/offline", "/manifest.webmanifest"}
	for _, name := range p.assets.names() {
		if !alone[name] {
			shell = append(shell, assetsPath+p.assets.version+"/"+name)
		}
	}
	start, err := json.Marshal(struct {
		Version string   `json:"version"`
		Shell   []string `json:"shell"`
	}{p.assets.version, shell})
	if err != nil {
		return err
	}
	worker, err := p.assets.path("worker.js")
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "no-cache")
	c.Response().Header().Set("Content-Security-Policy", policy)
	return c.Blob(http.StatusOK, assetTypes[".js"], fmt.Appendf(nil, "import { start } from %q;\nstart(%s);\n", worker, start))
}

// showSession says to a script who is signed in.
func showSession(v *visit) error {
	v.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	out := struct {
		Session  string `json:"session"`
		Name     string `json:"name"`
		Crew     string `json:"crew"`
		CrewName string `json:"crew_name"`
	}{Session: v.session.Prefix, Name: v.session.Name}
	if crew := v.session.Crew; crew != nil {
		out.Crew, out.CrewName = string(crew.Slug), crew.Name
	}
	body, err := json.Marshal(out)
	if err != nil {
		return err
	}
	return v.Blob(http.StatusOK, echo.MIMEApplicationJSON, body)
}

// shared are the pages that phones keep for whoever uses them.
var shared = map[string]bool{"waiting": true, "offline": true}

// showWaiting and showOffline are the same for everybody: what they show is on
// the phone.
func showWaiting(v *visit) error { return v.show(http.StatusOK, "waiting", nil) }

func showOffline(v *visit) error { return v.show(http.StatusOK, "offline", nil) }

// nobody is what a page for somebody says to whoever is not signed in.
func nobody() error {
	return domain.Errorf(domain.NoKey, "You are not signed in, or no longer: open the link of your crew again, or sign in with a key.")
}

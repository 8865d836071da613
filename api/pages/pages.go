// Package pages is what people see at the rig: pages made on the server for a
// phone first. They call the same use cases as the API, so that one rule decides
// for both, and work as plain forms; scripts (assets/*.js) only make them
// quicker. Nothing comes from another host and nothing is built: what is in
// templates and assets is what the browser gets.
//
// # Add a page
//
// A handler is a method that takes a *visit and returns an error; routes.go says
// where it is and whether one must be signed in. It calls a use case, makes a
// struct of what the template shows, and calls visit.show. A new template is a
// file in templates that defines "title" and "main". Every page is opened by the
// browser tests in light and dark and looked at by the accessibility checks: add
// it to the list in pages_test.go.
package pages

import (
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"delaybook/api/session"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// Options are what the pages need besides the use cases.
type Options struct {
	Log       *slog.Logger
	PublicURL string           // how people reach the service, without a slash at its end
	Now       func() time.Time // for how long sessions are good
	Sessions  *session.Sessions
	Clips     *service.Clips
}

// Pages answers with pages.
type Pages struct {
	use       *service.Service
	clips     *service.Clips
	log       *slog.Logger
	public    string
	now       func() time.Time
	sessions  *session.Sessions
	assets    *assets
	templates templates
}

// New returns the pages of a service.
func New(use *service.Service, o Options) (*Pages, error) {
	p := &Pages{use: use, clips: o.Clips, log: o.Log, public: o.PublicURL, now: o.Now, sessions: o.Sessions}
	var err error
	if p.assets, err = readAssets(); err != nil {
		return nil, fmt.Errorf("read the assets of the pages: %w", err)
	}
	if p.templates, err = readTemplates(p.assets); err != nil {
		return nil, fmt.Errorf("read the templates of the pages: %w", err)
	}
	return p, nil
}

// policy allows what comes from this host and nothing written into a page.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; " +
	"connect-src 'self'; manifest-src 'self'; worker-src 'self'; media-src 'self' blob:; " +
	"form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// A visit is one request for a page.
type visit struct {
	echo.Context
	pages   *Pages
	session *service.Session // nil: nobody is signed in
	asked   service.Request  // for who is signed in, or whom the API knows
}

// request returns the request of a use case.
func (v *visit) request() service.Request { return v.asked }

// form returns a field of the form that was sent, or of the query of a read.
func (v *visit) form(name string) string { return v.FormValue(name) }

// to sends the browser on, with a read.
func (v *visit) to(path string) error { return v.Redirect(http.StatusSeeOther, path) }

type handler func(v *visit) error

// open makes a handler for whoever comes.
func (p *Pages) open(h handler) echo.HandlerFunc {
	return func(c echo.Context) error {
		protect(c)
		c.Response().Header().Set(echo.HeaderVary, "Cookie")
		v := &visit{Context: c, pages: p}
		err := p.enter(v)
		if err == nil {
			v.tag()
			err = h(v)
		}
		if err == nil || v.wantsJSON() {
			return err
		}
		return v.fail(err)
	}
}

// protect sets the headers that every page carries.
func protect(c echo.Context) {
	header := c.Response().Header()
	header.Set("Content-Security-Policy", policy)
	header.Set("Referrer-Policy", "no-referrer") // a link to join is a secret
	header.Set(echo.HeaderCacheControl, "private, no-cache")
}

// enter refuses what another site sent, and finds out who comes.
func (p *Pages) enter(v *visit) error {
	if err := p.sessions.CheckOrigin(v.Request()); err != nil {
		return err
	}
	session, err := p.sessions.Of(v.Request())
	if err == nil {
		v.session, v.asked = &session, service.Request{Caller: session.Caller}
		return nil
	}
	if isNoKey(err) {
		return nil
	}
	return err
}

// signedIn makes a handler for who is signed in; others are asked to.
func (p *Pages) signedIn(h handler) echo.HandlerFunc {
	return p.open(func(v *visit) error {
		if v.session == nil {
			return nobody()
		}
		return h(v)
	})
}

// Package session knows who uses a browser: it keeps the secret of a session in
// a cookie that scripts and other sites can not read, and refuses writes that
// another site makes a browser send.
package session

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"
)

// Sessions reads and sets the cookie of a service.
type Sessions struct {
	use        *service.Service
	name       string
	protection *http.CrossOriginProtection
}

// New returns the sessions of the service that people reach at publicURL.
//
// A cookie whose name begins with __Host- can be set by this host alone and only
// over TLS (draft-ietf-httpbis-rfc6265bis, 4.1.3.2). Browsers refuse that name
// over plain HTTP, which the demo on one's own machine speaks, and take a Secure
// cookie there all the same.
func New(use *service.Service, publicURL string) (*Sessions, error) {
	s := &Sessions{use: use, name: "delaybook", protection: http.NewCrossOriginProtection()}
	address, err := url.Parse(publicURL)
	if err != nil {
		return nil, err
	}
	if address.Scheme == "https" {
		s.name = "__Host-delaybook"
	}
	// Behind a proxy the Host header may not be what the browser was told.
	return s, s.protection.AddTrustedOrigin(address.Scheme + "://" + address.Host)
}

// Of returns the session that a request comes from. It returns NoKey when the
// request carries no cookie of a session in use.
func (s *Sessions) Of(r *http.Request) (service.Session, error) {
	text := ""
	if cookie, err := r.Cookie(s.name); err == nil {
		text = cookie.Value
	}
	return s.use.Session(r.Context(), text)
}

// Has reports whether a request carries a cookie, in use or not.
func (s *Sessions) Has(r *http.Request) bool {
	_, err := r.Cookie(s.name)
	return err == nil
}

// CheckOrigin refuses a write that a page of another site made the browser send.
func (s *Sessions) CheckOrigin(r *http.Request) error {
	if s.protection.Check(r) == nil {
		return nil
	}
	return domain.Errorf(domain.Denied, "Another site sent this from your browser, and nothing was done: open the page here and do it there.")
}

// Set gives the browser a session.
func (s *Sessions) Set(w http.ResponseWriter, key service.MadeKey, now time.Time) {
	s.set(w, key.Text, int(key.ExpiresAt.Sub(now).Seconds()))
}

// Clear takes the session from the browser.
func (s *Sessions) Clear(w http.ResponseWriter) { s.set(w, "", -1) }

// SameSite is Lax and not Strict, so that a link in the crew's chat opens the
// rig instead of the page to sign in. Lax cookies come with no write of another
// site.
func (s *Sessions) set(w http.ResponseWriter, value string, maxAge int) {
	http.SetCookie(w, &http.Cookie{
		Name: s.name, Value: value, Path: "/", MaxAge: maxAge, HttpOnly: true, Secure: true, SameSite: http.SameSiteLaxMode,
	})
}

// LocalPath returns a path of this site to go on to, "/" for anything else.
func LocalPath(next string) string {
	if !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.ContainsAny(next, "\\\r\n\t") {
		return "/"
	}
	return next
}

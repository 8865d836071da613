package pages_test

import (
	"context"
	"crypto/tls"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"delaybook/api/pages/browsertest"
)

// client reaches the site without a browser, to send what none of ours would. It
// keeps no cookie and follows nothing.
func (c *company) client() *http.Client {
	at, _ := url.Parse(c.URL)
	return &http.Client{
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{
			TLSClientConfig: &tls.Config{InsecureSkipVerify: true}, //nolint:gosec // it is this test's own site
			DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
				return (&net.Dialer{}).DialContext(ctx, network, "127.0.0.1:"+at.Port())
			},
		},
	}
}

func (c *company) send(t *testing.T, method, path, form string, headers ...string) *http.Response {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, c.URL+path, strings.NewReader(form))
	if err != nil {
		t.Fatal(err)
	}
	if form != "" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	response, err := c.client().Do(r)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = response.Body.Close() })
	return response
}

// Another site can neither act for who is signed in here nor sign them in as somebody else.
func TestAnotherSiteCanNotSendForms(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	signedIn := c.send(t, http.MethodPost, "/sign-in", "key="+c.keys.RedVan)
	cookie := signedIn.Cookies()[0]
	for _, path := range []string{"/sign-in", "/sign-out", "/join", "/crew/links", "/crew/end", "/rigs/harbour-hall/measure", "/rigs/harbour-hall/dialled"} {
		for _, header := range [][]string{{"Sec-Fetch-Site", "cross-site"}, {"Origin", "https://elsewhere.test"}} {
			got := c.send(t, http.MethodPost, path, "key="+c.keys.BlueVan, append(header, "Cookie", cookie.Name+"="+cookie.Value)...)
			if got.StatusCode != http.StatusForbidden || len(got.Cookies()) > 0 {
				t.Errorf("%s with %v: %s, cookies %v", path, header, got.Status, got.Cookies())
			}
		}
	}
	if got := c.send(t, http.MethodGet, "/me", "", "Cookie", cookie.Name+"="+cookie.Value); got.StatusCode != http.StatusOK {
		t.Errorf("afterwards: %s", got.Status)
	}
}

// Every page carries the policy, and whoever is not signed in gets nothing of a rig.
func TestEveryPageCarriesThePolicy(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	for _, s := range screens(t, c) {
		got := c.send(t, http.MethodGet, s.path, "")
		policy := got.Header.Get("Content-Security-Policy")
		for _, part := range []string{"default-src 'none'", "script-src 'self'", "style-src 'self'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"} {
			if !strings.Contains(policy, part) {
				t.Errorf("%s: the policy %q has no %s", s.path, policy, part)
			}
		}
		if got.Header.Get("Referrer-Policy") != "no-referrer" || got.Header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: headers %v", s.path, got.Header)
		}
		body, err := io.ReadAll(got.Body)
		if err != nil {
			t.Fatal(err)
		}
		if !s.open && (got.StatusCode != http.StatusSeeOther || strings.Contains(string(body), "Harbour")) {
			t.Errorf("%s without a session: %s %s", s.path, got.Status, body)
		}
	}
}

// What may be kept for ever is kept for ever, and its address changes with it.
func TestAssetsAreKept(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := browsertest.NewPhone(t, c.Site)
	phone.SignIn(c.keys.RedVan)
	phone.Open("/rigs")
	phone.Transferred()
	phone.Open("/me")
	const most = 3000 // the page alone; the style sheet is larger
	if n := phone.Transferred(); n > most {
		t.Errorf("a second page took %d bytes", n)
	}
	if got := c.send(t, http.MethodGet, "/static/book.css", ""); got.StatusCode != http.StatusNotFound {
		t.Errorf("an address without a hash: %s", got.Status)
	}
}

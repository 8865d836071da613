package api_test

import (
	"net/http"
	"strings"
	"testing"
)

// signedIn returns the cookie of a browser that signed in with a key.
func (s *site) signedIn(key string) string {
	s.tb.Helper()
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	r, err := http.NewRequestWithContext(s.tb.Context(), http.MethodPost, s.bare+"/sign-in", strings.NewReader("key="+key))
	if err != nil {
		s.tb.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	response, err := client.Do(r)
	if err != nil {
		s.tb.Fatal(err)
	}
	defer response.Body.Close()
	if response.StatusCode != http.StatusSeeOther || len(response.Cookies()) != 1 {
		s.tb.Fatalf("signing in: %s, cookies %v", response.Status, response.Cookies())
	}
	cookie := response.Cookies()[0]
	if cookie.Name != "__Host-delaybook" || !cookie.HttpOnly || !cookie.Secure || cookie.SameSite != http.SameSiteLaxMode ||
		cookie.Path != "/" || cookie.Domain != "" || cookie.MaxAge <= 0 {
		s.tb.Errorf("the cookie is not safe: %+v", cookie)
	}
	return cookie.Name + "=" + cookie.Value
}

// The API takes the session of a page in place of a key, but nothing that another
// site made the browser send.
func TestTheSessionOfAPageServesForAKey(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.post(s.admin, "/v1/crews", m{"slug": "red-van", "name": "Red van"}).want(http.StatusCreated)
	cookie := s.signedIn(s.key("editor", "red-van"))
	s.sendBare("", http.MethodGet, "/v1/rigs", nil, "Cookie", cookie).want(http.StatusOK)
	body := []byte(`{"label":"tonight"}`)
	for _, c := range []struct {
		what    string
		headers []string
		want    int
	}{
		{"a page of ours", []string{"Sec-Fetch-Site", "same-origin"}, http.StatusCreated},
		{"our origin, named", []string{"Origin", "https://book.example"}, http.StatusCreated},
		{"another site", []string{"Sec-Fetch-Site", "cross-site"}, http.StatusForbidden},
		{"a neighbour", []string{"Sec-Fetch-Site", "same-site"}, http.StatusForbidden},
		{"another origin", []string{"Origin", "https://elsewhere.example"}, http.StatusForbidden},
	} {
		headers := append([]string{"Cookie", cookie}, c.headers...)
		if got := s.sendBare("", http.MethodPost, "/v1/join-links", body, headers...); got.status != c.want {
			t.Errorf("%s: %d %s, want %d", c.what, got.status, got.body, c.want)
		}
	}
	if got := s.sendBare("", http.MethodGet, "/v1/rigs", nil, "Cookie", cookie+"x"); got.status != http.StatusUnauthorized {
		t.Errorf("a made-up session: %d", got.status)
	}
}

func TestLinksAndSessionsOverTheAPI(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.post(s.admin, "/v1/crews", m{"slug": "red-van", "name": "Red van"}).want(http.StatusCreated)
	editor := s.key("editor", "red-van")
	link := s.post(editor, "/v1/join-links", m{"label": "tonight", "hours": 2, "once": true}, "Idempotency-Key", "one").want(http.StatusCreated).json()
	if url := link["url"].(string); !strings.HasPrefix(url, "https://book.example/join?link=dlj_") {
		t.Errorf("the link leads to %s", url)
	}
	// What was shown once is not shown again.
	s.post(editor, "/v1/join-links", m{"label": "tonight", "hours": 2, "once": true}, "Idempotency-Key", "one").want(http.StatusConflict)
	s.signedIn(editor)
	items := s.get(editor, "/v1/access").want(http.StatusOK).json()["items"].([]any)
	if len(items) != 2 {
		t.Fatalf("in use: %v", items)
	}
	for _, item := range items {
		s.send(editor, http.MethodDelete, "/v1/access/"+item.(m)["id"].(string), nil).want(http.StatusNoContent)
	}
	if left := s.get(editor, "/v1/access").want(http.StatusOK).json()["items"].([]any); len(left) != 0 {
		t.Errorf("left: %v", left)
	}
	s.get(s.key("tech", "red-van"), "/v1/access").want(http.StatusForbidden)
	s.send(editor, http.MethodDelete, "/v1/access/nothing", nil).want(http.StatusNotFound)
}

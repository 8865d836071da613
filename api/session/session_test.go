package session_test

import (
	"testing"

	"delaybook/api/session"
)

// Signing in leads on to a path of this site and nowhere else.
func TestLocalPath(t *testing.T) {
	t.Parallel()
	for next, want := range map[string]string{
		"/rigs/a.b?x=1": "/rigs/a.b?x=1", "/": "/",
		"": "/", "rigs": "/", "//elsewhere.example": "/", "/\\elsewhere.example": "/", "https://elsewhere.example": "/",
		"javascript:alert(1)": "/", "/a\r\nSet-Cookie: x": "/", "\\/x": "/", "/\t/elsewhere.example": "/",
	} {
		if got := session.LocalPath(next); got != want {
			t.Errorf("%q leads to %q, want %q", next, got, want)
		}
	}
}

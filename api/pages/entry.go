package pages

import (
	"errors"
	"net/http"
	"strings"

	"delaybook/api/session"
	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A signInPage asks for a key.
type signInPage struct {
	Next  string
	Wrong string // what was wrong with the key that was sent
}

func showSignIn(v *visit) error {
	next := session.LocalPath(v.QueryParam("next"))
	if v.session != nil {
		return v.to(next)
	}
	return v.show(http.StatusOK, "sign-in", signInPage{Next: next})
}

func signIn(v *visit) error {
	next := session.LocalPath(v.form("next"))
	made, err := v.pages.use.SignIn(v.Request().Context(), strings.TrimSpace(v.form("key")))
	if e, ok := errors.AsType[*domain.Error](err); ok {
		return v.show(http.StatusUnauthorized, "sign-in", signInPage{Next: next, Wrong: e.Message})
	}
	if err != nil {
		return err
	}
	v.pages.sessions.Set(v.Response(), made, v.pages.now())
	return v.to(next)
}

// signOut ends the session for good, so that a copy of its cookie is worth nothing.
func signOut(v *visit) error {
	if v.session != nil {
		if err := v.pages.use.EndAccess(v.Request().Context(), v.request(), v.session.Prefix); err != nil {
			return err
		}
	}
	v.pages.sessions.Clear(v.Response())
	return v.to("/sign-in")
}

// showMe says who is signed in.
func showMe(v *visit) error { return v.show(http.StatusOK, "me", nil) }

// A joinPage offers to join a crew. Opening it uses nothing up: programs that
// show previews of links open it too.
type joinPage struct {
	service.Joining
	Link  string
	Wrong string
}

func showJoin(v *visit) error {
	v.Response().Header().Set(echo.HeaderCacheControl, "no-store") // its address is a secret
	link := v.QueryParam("link")
	offer, err := v.pages.use.Joining(v.Request().Context(), link)
	if err != nil {
		return err
	}
	return v.show(http.StatusOK, "join", joinPage{Joining: offer, Link: link})
}

func join(v *visit) error {
	link := v.form("link")
	made, err := v.pages.use.Join(v.Request().Context(), link, strings.TrimSpace(v.form("name")))
	if e, ok := errors.AsType[*domain.Error](err); ok && e.Code == domain.Invalid {
		offer, err := v.pages.use.Joining(v.Request().Context(), link)
		if err != nil {
			return err
		}
		return v.show(http.StatusUnprocessableEntity, "join", joinPage{Joining: offer, Link: link, Wrong: e.Message})
	}
	if err != nil {
		return err
	}
	v.pages.sessions.Set(v.Response(), made, v.pages.now())
	return v.to("/rigs")
}

package pages

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"net/url"
	"path"
	"strings"

	"delaybook/api/session"
	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

//go:embed templates/*.html
var templateFiles embed.FS

// templates are the pages by name. Each is made of the layout, the parts that
// pages share (files whose name begins with an underscore) and its own file.
type templates map[string]*template.Template

func readTemplates(a *assets) (templates, error) {
	shared, err := template.New("layout.html").Funcs(functions(a)).ParseFS(templateFiles, "templates/layout.html", "templates/_*.html")
	if err != nil {
		return nil, err
	}
	names, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil {
		return nil, err
	}
	all := templates{}
	for _, name := range names {
		short := strings.TrimSuffix(path.Base(name), ".html")
		if short == "layout" || strings.HasPrefix(short, "_") {
			continue
		}
		one, err := shared.Clone()
		if err != nil {
			return nil, err
		}
		if all[short], err = one.ParseFS(templateFiles, name); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// A frame is what the layout shows around a page.
type frame struct {
	Session *service.Session
	Path    string // of the request: where signing in leads back to
	Shared  bool   // phones keep the page for whoever uses them: it must not say who does
	Page    any
}

// Editor reports whether who is signed in may let others in.
func (f frame) Editor() bool {
	return f.Session != nil && f.Session.Caller.Role.Includes(domain.Editor)
}

// show answers with a page.
func (v *visit) show(status int, name string, page any) error {
	var out bytes.Buffer
	at, ok := v.pages.templates[name]
	if !ok {
		return fmt.Errorf("there is no template %q", name)
	}
	if err := at.Execute(&out, frame{Session: v.session, Path: v.Request().URL.RequestURI(), Shared: shared[name], Page: page}); err != nil {
		return fmt.Errorf("page %s: %w", name, err)
	}
	return v.HTMLBlob(status, out.Bytes())
}

// askToSignIn leads to the page to sign in, and from there back to a read.
func (v *visit) askToSignIn() error {
	next := "/"
	if v.Request().Method == http.MethodGet {
		next = v.Request().URL.RequestURI()
	}
	return v.to("/sign-in?next=" + url.QueryEscape(session.LocalPath(next)))
}

// A failure is what the page says when something went wrong.
type failure struct {
	Title  string
	Detail string
	Fields domain.Fields
}

var failures = map[domain.Code]failure{
	domain.NotFound: {Title: "Not here"},
	domain.Gone:     {Title: "Deleted"},
	domain.Denied:   {Title: "Not for you to do"},
	domain.Conflict: {Title: "It clashes with what is there"},
	domain.Invalid:  {Title: "Something is missing or wrong"},
	domain.Stale:    {Title: "Somebody was quicker"},
	domain.TooLarge: {Title: "Too large"},
	domain.Full:     {Title: "The service has no room"},
}

var failureStatus = map[domain.Code]int{
	domain.NotFound: http.StatusNotFound, domain.Gone: http.StatusGone, domain.Denied: http.StatusForbidden, domain.Conflict: http.StatusConflict,
	domain.Invalid: http.StatusUnprocessableEntity, domain.NoKey: http.StatusUnauthorized,
	domain.Stale: http.StatusPreconditionFailed, domain.TooLarge: http.StatusRequestEntityTooLarge, domain.Full: http.StatusInsufficientStorage,
}

func isNoKey(err error) bool {
	e, ok := errors.AsType[*domain.Error](err)
	return ok && e.Code == domain.NoKey
}

// fail answers with a page that says what went wrong. A cause that is not for
// people goes to the log.
func (v *visit) fail(err error) error {
	if v.Response().Committed {
		return err
	}
	e, ok := errors.AsType[*domain.Error](err)
	if ok && e.Code == domain.NoKey {
		return v.askToSignIn()
	}
	if status, known := failureStatus[codeOf(e)]; ok && known {
		f := failures[e.Code]
		f.Detail, f.Fields = e.Message, e.Fields
		return v.show(status, "failure", f)
	}
	if h, ok := errors.AsType[*echo.HTTPError](err); ok && h.Code < http.StatusInternalServerError {
		return v.show(h.Code, "failure", failure{Title: "Not here", Detail: "There is no such page."})
	}
	v.pages.log.ErrorContext(v.Request().Context(), "page failed", "method", v.Request().Method, "path", v.Path(), "err", err)
	return v.show(http.StatusInternalServerError, "failure", failure{
		Title: "That did not work", Detail: "Nothing was changed. Go back and try again; what you typed is still there.",
	})
}

func codeOf(e *domain.Error) domain.Code {
	if e == nil {
		return ""
	}
	return e.Code
}

// Package api is the HTTP face of delaybook: each handler decodes a request,
// calls one use case of package service and encodes its answer. It never
// reaches past the use cases.
//
// # Rules for every path
//
// Bodies are JSON in snake_case and are read strictly: an unknown member, a
// member given twice or a value of the wrong kind is refused with its JSON
// pointer and what to send instead (decode.go). Every error is a problem
// document of RFC 9457 and is made in one place (problem.go). Answers that are
// computed carry an ETag over the version of the book and what the caller may
// see, and are not computed again for somebody who has them (etag.go). Lists
// come in pages (page.go).
package api

import (
	"cmp"
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"delaybook/api/pages"
	"delaybook/api/session"
	"delaybook/domain/service"
	"delaybook/openapi"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"
)

// Options are what the handlers need besides the use cases.
type Options struct {
	Log       *slog.Logger
	PublicURL string           // how people reach the service, without a slash at its end
	Now       func() time.Time // for how long requests took
	Clips     *service.Clips   // the use cases of recordings
	Uploads   string           // folder for recordings that come in bit by bit
	Card      CardShelf        // files of the card; nil: none can be made
	MaxImport int64            // the most bytes of an export that is taken; 0: 1 GiB
}

type server struct {
	use      *service.Service
	clips    *service.Clips
	tus      *tusServer
	log      *slog.Logger
	public   string
	now      func() time.Time
	metrics  *metrics
	docs     http.Handler
	queries  queries
	sessions *session.Sessions
	pages    *pages.Pages
	shelf    CardShelf
	mostIn   int64 // bytes of an import
}

// New returns the handler of all paths.
//
//	@title						delaybook
//	@version					1
//	@description				A shared book of measured delays: rigs, devices, measurements, and what to set.
//	@description				Offsets are picture arrival minus sound arrival in ms; positive means that the sound is early.
//	@description				A request carries a key (Authorization: Bearer KEY), or the session that a browser has on the pages of the service.
//	@license.name				Apache-2.0
//	@BasePath					/
//	@securityDefinitions.apikey	bearer
//	@in							header
//	@name						Authorization
func New(use *service.Service, o Options) (http.Handler, error) {
	sessions, err := session.New(use, o.PublicURL)
	if err != nil {
		return nil, fmt.Errorf("the public address: %w", err)
	}
	site, err := pages.New(use, pages.Options{Log: o.Log, PublicURL: o.PublicURL, Now: o.Now, Sessions: sessions, Clips: o.Clips})
	if err != nil {
		return nil, err
	}
	docs, err := openapi.Docs("/docs")
	if err != nil {
		return nil, err
	}
	known, err := readQueries(openapi.Document())
	if err != nil {
		return nil, err
	}
	s := &server{
		use: use, clips: o.Clips, log: o.Log, public: o.PublicURL, now: o.Now, metrics: newMetrics(use), docs: docs, queries: known, sessions: sessions,
		pages: site, shelf: o.Card, mostIn: cmp.Or(o.MaxImport, maxImport),
	}
	if s.tus, err = newTusServer(s, o.Uploads, o.Clips.MostBytes); err != nil {
		return nil, err
	}
	e := echo.New()
	e.HideBanner, e.HidePort = true, true
	e.HTTPErrorHandler = s.answerError
	e.Use(s.observe, middleware.Recover(), secure)
	s.routes(e)
	site.Register(e)
	return e, nil
}

// secure sets the header that every answer carries; pages bring policies of
// their own.
func secure(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		c.Response().Header().Set("X-Content-Type-Options", "nosniff")
		return next(c)
	}
}

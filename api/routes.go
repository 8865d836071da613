package api

import (
	"net/http"
	"net/url"
	"slices"

	"delaybook/openapi"

	"github.com/labstack/echo/v4"
)

// routes is the table of all paths. Whoever has no key reaches only what
// stands above authenticate.
func (s *server) routes(e *echo.Echo) {
	e.GET("/healthz", s.health)
	e.GET("/readyz", s.ready)
	e.GET("/openapi.json", func(c echo.Context) error {
		return c.Blob(http.StatusOK, echo.MIMEApplicationJSON, openapi.Document())
	})
	e.Match([]string{http.MethodGet, http.MethodHead}, problemsPath, s.problems)
	e.Any("/docs", echo.WrapHandler(s.docs))
	e.Any("/docs/*", echo.WrapHandler(s.docs))

	open := keyed{e, []echo.MiddlewareFunc{s.queries.check}}
	open.GET("/card", s.showCard)
	open.GET("/card/media", s.showCardMedia)
	open.GET("/card/truth", s.showCardTruth)

	e.GET("/metrics", s.showMetrics, s.authenticate)

	v1 := keyed{e, []echo.MiddlewareFunc{s.authenticate, unescaped, s.queries.check}}
	s.companyRoutes(v1)
	s.catalogueRoutes(v1)
	s.rigRoutes(v1)
	s.clipRoutes(v1)
}

// keyed adds routes below /v1, behind what is around them: most need a key. A group of the router would not do: it takes
// every path below it for one of its own and answers 404 where a method is wrong.
type keyed struct {
	e      *echo.Echo
	around []echo.MiddlewareFunc
}

// GET serves HEAD too (RFC 9110, 9.1): the server leaves the body out.
func (k keyed) GET(path string, h echo.HandlerFunc) {
	k.add(http.MethodGet, path, h)
	k.add(http.MethodHead, path, h)
}

func (k keyed) POST(path string, h echo.HandlerFunc)   { k.add(http.MethodPost, path, h) }
func (k keyed) PUT(path string, h echo.HandlerFunc)    { k.add(http.MethodPut, path, h) }
func (k keyed) PATCH(path string, h echo.HandlerFunc)  { k.add(http.MethodPatch, path, h) }
func (k keyed) DELETE(path string, h echo.HandlerFunc) { k.add(http.MethodDelete, path, h) }

func (k keyed) add(method, path string, h echo.HandlerFunc) {
	k.e.Add(method, "/v1"+path, h, k.around...)
}

// unescaped takes the percent-encoding off the parameters of the path, which the
// router leaves on where the path needs it, as for a slash in an asset tag.
func unescaped(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		if c.Request().URL.RawPath == "" {
			return next(c)
		}
		values := slices.Clone(c.ParamValues())
		for i, value := range values {
			plain, err := url.PathUnescape(value)
			if err != nil {
				return echo.NewHTTPError(http.StatusNotFound)
			}
			values[i] = plain
		}
		c.SetParamValues(values...)
		return next(c)
	}
}

func (s *server) companyRoutes(v1 keyed) {
	v1.GET("/crews", s.listCrews)
	v1.POST("/crews", s.createCrew)
	v1.GET("/keys", s.listKeys)
	v1.POST("/keys", s.createKey)
	v1.DELETE("/keys/:key", s.deleteKey)
	v1.POST("/join-links", s.createJoinLink)
	v1.GET("/access", s.listAccess)
	v1.DELETE("/access/:id", s.deleteAccess)
	v1.GET("/limits", s.listLimits)
	v1.POST("/limits", s.createLimit)
	v1.GET("/card-sources", s.listCardSources)
	v1.POST("/card-sources", s.createCardSource)
	v1.GET("/convert", s.convert)
	v1.GET("/export", s.export)
	v1.POST("/import", s.importBook)
}

func (s *server) catalogueRoutes(v1 keyed) {
	v1.GET("/devices", s.listDevices)
	v1.POST("/devices", s.createDevice)
	v1.GET("/devices/:device", s.showDevice)
	v1.PATCH("/devices/:device", s.patchDevice)
	v1.DELETE("/devices/:device", s.deleteDevice)
	v1.POST("/devices/:device/modes", s.createMode)
	v1.DELETE("/devices/:device/modes/:mode", s.deleteMode)
	v1.POST("/devices/:device/controls", s.createControl)
	v1.DELETE("/devices/:device/controls/:control", s.deleteControl)
	v1.POST("/devices/:device/units", s.createUnit)
	v1.DELETE("/devices/:device/units/:unit", s.deleteUnit)
	v1.GET("/devices/:device/stated", s.listStated)
	v1.POST("/devices/:device/stated", s.createStated)
	v1.POST("/stated/:id/strike", s.strikeStated)
	v1.POST("/stated/:id/restore", s.restoreStated)
	v1.GET("/devices/:device/latency", s.showLatency)
	v1.GET("/latencies", s.listLatencies)
}

func (s *server) rigRoutes(v1 keyed) {
	v1.GET("/rigs", s.listRigs)
	v1.POST("/rigs", s.createRig)
	v1.GET("/rigs/:rig", s.showRig)
	v1.PUT("/rigs/:rig", s.replaceRig)
	v1.DELETE("/rigs/:rig", s.deleteRig)
	v1.GET("/rigs/:rig/revisions", s.listRevisions)
	v1.GET("/rigs/:rig/measurements", s.listMeasurements)
	v1.POST("/rigs/:rig/measurements", s.createMeasurement)
	v1.POST("/measurements", s.createMeasurements)
	v1.GET("/measurements/:id", s.showMeasurement)
	v1.POST("/measurements/:id/strike", s.strikeMeasurement)
	v1.POST("/measurements/:id/restore", s.restoreMeasurement)
	v1.GET("/rigs/:rig/settings", s.showSettings)
	v1.PUT("/rigs/:rig/settings", s.putSettings)
	v1.GET("/rigs/:rig/offsets", s.showOffsets)
	v1.GET("/rigs/:rig/delays", s.showDelays)
	v1.GET("/rigs/:rig/checks", s.listChecks)
	v1.GET("/rigs/:rig/copies", s.showCopies)
	v1.GET("/rigs/:rig/next-measurement", s.showNextMeasurement)
	v1.GET("/rigs/:rig/sheet", s.showSheet)
}

func (s *server) clipRoutes(v1 keyed) {
	v1.GET("/rigs/:rig/clips", s.listClips)
	v1.POST("/rigs/:rig/clips", s.createClip)
	v1.add(http.MethodHead, "/uploads/:upload", s.tus.headUpload)
	v1.PATCH("/uploads/:upload", s.tus.patchUpload)
	v1.DELETE("/uploads/:upload", s.tus.deleteUpload)
	v1.GET("/clips/:clip", s.showClip)
	v1.DELETE("/clips/:clip", s.deleteClip)
	v1.GET("/clips/:clip/events", s.followClip)
	v1.GET("/clips/:clip/plot.svg", s.showClipPlot)
	v1.GET("/clips/:clip/frames", s.listClipFrames)
	v1.GET("/clips/:clip/frames/:frame", s.showClipFrame)
	v1.PUT("/clips/:clip/accept", s.acceptClip)
	v1.PUT("/clips/:clip/reject", s.rejectClip)
	v1.PUT("/clips/:clip/cancel", s.cancelClip)
	v1.PUT("/clips/:clip/analyse", s.analyseClip)
}

package pages

import (
	"github.com/labstack/echo/v4"
)

// readable adds pages that are read: HEAD is answered like GET (RFC 9110, 9.1).
type readable struct{ e *echo.Echo }

func (r readable) GET(path string, h echo.HandlerFunc) {
	r.e.GET(path, h)
	r.e.HEAD(path, h)
}

// Register adds the pages to the router of the service.
func (p *Pages) Register(to *echo.Echo) {
	e := readable{to}
	e.GET(assetsPath+":version/:name", p.asset)
	e.GET("/manifest.webmanifest", p.manifest)
	e.GET("/sw.js", p.serviceWorker)
	e.GET("/waiting", p.open(showWaiting))
	e.GET("/offline", p.open(showOffline))
	e.GET("/session", p.signedIn(showSession))

	e.GET("/", p.signedIn(func(v *visit) error { return v.to("/rigs") }))
	e.GET("/sign-in", p.open(showSignIn))
	to.POST("/sign-in", p.open(signIn))
	to.POST("/sign-out", p.open(signOut))
	e.GET("/join", p.open(showJoin))
	to.POST("/join", p.open(join))
	e.GET("/crew", p.signedIn(showCrew))
	to.POST("/crew/links", p.signedIn(makeLink))
	to.POST("/crew/end", p.signedIn(endAccess))
	e.GET(CardPath, p.open(showCard))
	e.GET("/me", p.signedIn(showMe))
	e.GET("/rigs", p.signedIn(showRigs))
	e.GET("/rigs/:rig", p.signedIn(showRig))
	to.POST("/rigs/:rig/dialled", p.signedIn(dial))
	e.GET("/rigs/:rig/measure", p.signedIn(showMeasure))
	to.POST("/rigs/:rig/measure", p.signedIn(measure))
	e.GET("/rigs/:rig/history", p.signedIn(showHistory))
	e.GET("/rigs/:rig/sheet", p.signedIn(showSheet))
	e.GET("/measurements/:id", p.signedIn(showTaken))
	to.POST("/measurements/:id/strike", p.signedIn(strike))
	to.POST("/measurements/:id/restore", p.signedIn(restore))
	e.GET("/rigs/:rig/record", p.signedIn(showRecord))
	to.POST("/rigs/:rig/record", p.signedIn(record))
	to.POST("/rigs/:rig/record/said", p.signedIn(sayRecord))
	e.GET("/rigs/:rig/quiet", p.signedIn(showQuiet))
	to.POST("/rigs/:rig/quiet", p.signedIn(quiet))
	to.POST("/rigs/:rig/quiet/said", p.signedIn(sayQuiet))
	e.GET("/clips/:clip", p.signedIn(showClip))
	to.POST("/clips/:clip/accept", p.signedIn(acceptClip))
	to.POST("/clips/:clip/reject", p.signedIn(changeClip(rejectClip)))
	to.POST("/clips/:clip/cancel", p.signedIn(changeClip(cancelClip)))
	to.POST("/clips/:clip/analyse", p.signedIn(changeClip(analyseClip)))
	e.GET("/clips/:clip/step", p.signedIn(showStep))
	to.POST("/clips/:clip/step", p.signedIn(step))
}

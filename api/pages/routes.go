package pages

import (
	"github.com/labstack/echo/v4"
)

// Register adds the pages to the router of the service.
func (p *Pages) Register(e *echo.Echo) {
	e.GET(assetsPath+":name", p.asset)
	e.GET("/manifest.webmanifest", p.manifest)

	e.GET("/", p.signedIn(func(v *visit) error { return v.to("/rigs") }))
	e.GET("/sign-in", p.open(showSignIn))
	e.POST("/sign-in", p.open(signIn))
	e.POST("/sign-out", p.open(signOut))
	e.GET("/join", p.open(showJoin))
	e.POST("/join", p.open(join))
	e.GET("/crew", p.signedIn(showCrew))
	e.POST("/crew/links", p.signedIn(makeLink))
	e.POST("/crew/end", p.signedIn(endAccess))
	e.GET(CardPath, p.open(showCard))
	e.GET("/me", p.signedIn(showMe))
	e.GET("/rigs", p.signedIn(showRigs))
	e.GET("/rigs/:rig", p.signedIn(showRig))
	e.POST("/rigs/:rig/dialled", p.signedIn(dial))
	e.GET("/rigs/:rig/measure", p.signedIn(showMeasure))
	e.POST("/rigs/:rig/measure", p.signedIn(measure))
	e.GET("/rigs/:rig/history", p.signedIn(showHistory))
	e.GET("/rigs/:rig/sheet", p.signedIn(showSheet))
	e.GET("/measurements/:id", p.signedIn(showTaken))
	e.POST("/measurements/:id/strike", p.signedIn(strike))
	e.POST("/measurements/:id/restore", p.signedIn(restore))
}

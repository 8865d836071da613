package pages_test

import (
	"fmt"
	"net/http"
	"os"
	"testing"
	"time"

	"delaybook/api/pages/browsertest"
	"delaybook/domain/service"
)

// A screen is a page that every check of this file looks at.
type screen struct {
	name string
	path string
	open bool // to whoever comes
}

// screens are all pages. A new one is added here.
func screens(t *testing.T, c *company) []screen {
	t.Helper()
	link, err := c.Use.AddJoinLink(t.Context(), c.editor(t), service.NewJoinLink{})
	if err != nil {
		t.Fatal(err)
	}
	_, step := c.clapped(t, "clap 1.35", "clap 3.0")
	return []screen{
		{"sign-in", "/sign-in", true},
		{"join", "/join?link=" + link.Text, true},
		{"card", "/card?camera=25&screen=60", true},
		{"join-ended", "/join?link=dlj_no_good", true},
		{"rigs", "/rigs", false},
		{"rig", "/rigs/harbour-hall", false},
		{"rig-kit", "/rigs/van-kit", false},
		{"rig-not-ours", "/rigs/blue-van.granary", false},
		{"not-here", "/rigs/nowhere", false},
		{"measure", "/rigs/harbour-hall/measure", false},
		{"taken", "/measurements/" + c.lastMeasurement(t, "harbour-hall"), false},
		{"crew", "/crew", false},
		{"history", "/rigs/harbour-hall/history", false},
		{"sheet", "/rigs/harbour-hall/sheet", false},
		{"me", "/me", false},
		{"waiting", "/waiting", true},
		{"offline", "/offline", true},
		{"record", "/rigs/harbour-hall/record", false},
		{"clip-done", "/clips/" + c.clip(t, service.ClipDone, "offset 166.8", "offset -33.4"), false},
		{"clip-refused", "/clips/" + c.clip(t, service.ClipRefused, "refuse no-flashes"), false},
		{"clip-running", "/clips/" + c.clip(t, service.ClipAnalysing, "hold 10m"), false},
		{"quiet", "/rigs/harbour-hall/quiet", false},
		{"step", step + "?read=0.135135.on", false},
	}
}

// Every page, in light and dark, is without fault by the accessibility checks,
// breaks no policy, asks no other host, and fits the narrowest phone. With
// SCREENSHOTS=FOLDER it leaves a picture of each there.
func TestEveryPageInLightAndDark(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := browsertest.NewPhone(t, c.Site)
	signedIn := false
	for _, s := range screens(t, c) {
		if !s.open && !signedIn {
			phone.SignIn(c.keys.RedVan)
			signedIn = true
		}
		for _, dark := range []bool{false, true} {
			name := s.name + "-light"
			if dark {
				name = s.name + "-dark"
			}
			phone.Dark(dark)
			if status := phone.Open(s.path); status >= http.StatusInternalServerError {
				t.Errorf("%s: status %d", s.path, status)
			}
			phone.CheckAccess()
			phone.CheckWidth()
			phone.CheckTargets()
			phone.Shoot(os.Getenv(browsertest.ShotsVariable), name)
		}
	}
}

// Pages are made for a phone first, and fit a laptop and a phone whose owner
// reads large letters (WCAG 2.2, 1.4.10: 320 CSS pixels without scrolling sideways).
func TestPagesFitOtherScreens(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := browsertest.NewPhone(t, c.Site)
	phone.SignIn(c.keys.RedVan)
	for _, width := range []int64{320, 1280} {
		phone.Resize(width, browsertest.Height)
		for _, path := range []string{"/rigs", "/rigs/harbour-hall", "/rigs/harbour-hall/measure", "/rigs/harbour-hall/sheet", "/crew"} {
			phone.Open(path)
			phone.CheckWidth()
			phone.Shoot(os.Getenv(browsertest.ShotsVariable), fmt.Sprintf("%d%s", width, path))
		}
	}
}

// Instants are shown in the time of who looks, and without scripts with their
// offset from UTC.
func TestInstantsInTheTimeOfThePhone(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	m, err := c.Use.Measurement(t.Context(), c.editor(t), c.lastMeasurement(t, "harbour-hall"))
	if err != nil {
		t.Fatal(err)
	}
	phone := browsertest.NewPhone(t, c.Site)
	phone.SignIn(c.keys.RedVan)
	phone.Zone("Etc/GMT-5") // by that name five hours ahead of UTC
	at := "/measurements/" + m.ID.String()
	phone.Open(at)
	phone.Want(m.TakenAt.UTC().Add(5 * time.Hour).Format("2 January 2006 at 15:04"))
	phone.Scripts(false)
	phone.Open(at)
	phone.Scripts(true)
	phone.Want(m.TakenAt.UTC().Format("2 January 2006, 15:04 UTC"))
}

// The first page comes quickly over a bad network: everything that it needs,
// with nothing kept from before, in less than 100 kB.
func TestTheFirstPageIsSmall(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := browsertest.NewPhone(t, c.Site)
	phone.Open("/sign-in")
	const most = 100_000
	n := phone.Transferred()
	t.Logf("the first page took %d bytes", n)
	if n < 1000 || n > most {
		t.Errorf("want at most %d", most)
	}
}

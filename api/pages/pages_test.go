package pages_test

import (
	"net/http"
	"os"
	"testing"

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
	return []screen{
		{"sign-in", "/sign-in", true},
		{"join", "/join?link=" + link.Text, true},
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

// The first page comes quickly over a bad network: everything that it needs,
// with nothing kept from before, in less than 100 kB.
func TestTheFirstPageIsSmall(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := browsertest.NewPhone(t, c.Site)
	phone.Open("/sign-in")
	const most = 100_000
	if n := phone.Transferred(); n < 1000 || n > most {
		t.Errorf("the first page took %d bytes, want at most %d", n, most)
	}
	phone.SignIn(c.keys.RedVan)
	phone.Transferred()
	phone.Open("/rigs")
	t.Logf("the rigs take %d bytes", phone.Transferred())
}

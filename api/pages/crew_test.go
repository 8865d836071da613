package pages_test

import (
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"delaybook/api/pages/browsertest"

	"github.com/chromedp/chromedp"
)

// An editor shows a code, a technician's phone opens what is in it, and the
// editor can end that again.
func TestAnEditorLetsSomebodyInAndOut(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	editor := browsertest.NewPhone(t, c.Site)
	editor.SignIn(c.keys.RedVan)
	editor.Open("/crew")
	editor.Type("#label", "Stage hands")
	editor.Follow(browsertest.Named("Make the code"))
	editor.Want("Scan to join red-van")
	editor.CheckAccess()
	editor.CheckWidth()
	editor.Shoot(os.Getenv(browsertest.ShotsVariable), "link-light")
	address := browsertest.Run(editor, chromedp.Value(chromedp.CSS("#address")))

	phone := browsertest.NewPhone(t, c.Site)
	phone.Open(strings.TrimPrefix(address, c.URL))
	phone.Type("#name", "Robin")
	phone.Follow(browsertest.Named("Join"))
	phone.Want("Harbour Hall")
	// A technician lets nobody in.
	if status := phone.Open("/crew"); status != http.StatusForbidden {
		t.Errorf("a technician opens the crew's page: status %d", status)
	}

	editor.Open("/crew")
	editor.Want("Stage hands", "Robin")
	editor.Follow(`//li[contains(., "Robin")]//button`)
	phone.Open("/rigs")
	phone.Want("Sign in")
}

// The demo speaks plain HTTP on one's own machine, and signing in works there too.
func TestSigningInOnOnesOwnMachine(t *testing.T) {
	t.Parallel()
	c := &company{browsertest.ServePlain(t, bookOfTheDemo(t), time.Now, recordings(t)), demoKeys}
	phone := c.joined(t, "Sam")
	phone.Want("Rigs of Red van")
}

func TestTheSheetOnPaper(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := browsertest.NewPhone(t, c.Site)
	phone.SignIn(c.keys.RedVan)
	phone.Open("/rigs/harbour-hall/sheet")
	phone.Want("Revision 1, book", "audio page, input 5", "void after switching off", "Measured", "lead technician", c.URL+"/rigs/red-van.harbour-hall")
	phone.Paper()
	phone.Resize(720, 1000) // about the width of a sheet
	phone.CheckWidth()
	phone.Shoot(os.Getenv(browsertest.ShotsVariable), "sheet-paper")
	if page := phone.Page(); strings.Contains(page, "As text for the chat") || strings.Contains(page, "Crew") {
		t.Errorf("buttons are printed:\n%s", page)
	}
	if pdf := browsertest.Run(phone, chromedp.PrintToPDF()); len(pdf) < 10_000 {
		t.Errorf("printed %d bytes", len(pdf))
	}
	phone.Dark(false)
	phone.Open("/rigs/harbour-hall/sheet")
	phone.Follow(browsertest.Named("As text for the chat"))
	phone.Want("lectern-delay: keep 5 frames (166.8 ms)")
}

// What was dialled in is recorded from the page, and a measurement is then a check.
func TestDiallingThePlanIn(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := browsertest.NewPhone(t, c.Site)
	phone.SignIn(c.keys.RedVan)
	phone.Open("/rigs/harbour-hall")
	phone.Want("Check again", "from 4.5 ms to 5 ms")
	phone.Follow(browsertest.Named("It is all dialled in now"))
	if page := phone.Page(); strings.Contains(page, "from 4.5 ms") {
		t.Errorf("the dial is still to be set:\n%s", page)
	}
	phone.Want("Keep as they are: 3")
}

package pages_test

import (
	"strings"
	"testing"

	"delaybook/api/pages/browsertest"
	"delaybook/domain"

	"github.com/chromedp/chromedp/kb"
)

// What was said as "sound early 5 frames" comes back so, and never with a sign.
func TestAMeasurementByEyeIsStoredAsSaid(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam Winter")
	phone.Open("/rigs/harbour-hall")
	phone.Follow(browsertest.Named("Add a measurement"))
	phone.Choose("#pair", "cam-2 hand programme")
	phone.Tap(`input[name=heard][value=late]`)
	phone.Type("#amount", "1")
	phone.Tap(`button[data-step="1"]`)
	phone.Tap(`input[name=changed][value=no]`)
	phone.Type("#card_source", "Tablet p ")
	phone.Follow(browsertest.Named("Store it"))

	phone.Want("Sound late 1.5 frames (50.0 ms)", "cam-2 with hand, read at programme", "Measured by Sam Winter", "What to set now")
	if page := phone.Page(); strings.Contains(page, "-1.5") || strings.Contains(page, "-50") {
		t.Errorf("a sign came back:\n%s", page)
	}
	all, err := c.Use.Measurements(t.Context(), c.editor(t), "harbour-hall")
	if err != nil {
		t.Fatal(err)
	}
	m := all[0]
	if m.Readings[0].Heard != domain.Late || m.Readings[0].Frames.String() != "1.5" || m.CardSource != "tablet-p" {
		t.Errorf("stored %+v", m.Readings[0])
	}
	if len(m.Settings) != 1 || m.Settings[0].Control != "hand-delay" {
		t.Errorf("settings %v, want what the form was prefilled with for the pair's control", m.Settings)
	}
}

func TestADecimalCommaAndADoubleTap(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	before := c.lastMeasurement(t, "harbour-hall")
	phone.Open("/rigs/harbour-hall/measure")
	phone.Tap(`input[name=method][value=clap]`)
	phone.Tap(`input[name=heard][value=early]`)
	phone.Tap(`input[name=unit][value=ms]`)
	phone.Type("#amount", "12,5")
	phone.Tap(browsertest.Named("Store it")) // without saying whether something was changed
	phone.Soon("Not stored yet", "switched off, re-plugged or changed")
	phone.CheckAccess()
	if got := c.lastMeasurement(t, "harbour-hall"); got != before {
		t.Fatal("half a form was stored")
	}
	phone.Tap(`input[name=changed][value=yes]`)
	phone.Follow(browsertest.Named("Store it"))
	phone.Want("Sound early 0.4 frames (12.5 ms)")
	first := phone.Path()

	// Back, and sent again: the same form counts once.
	phone.Back()
	phone.Within(`document.querySelector("#amount").value === "12,5"`)
	phone.Follow(browsertest.Named("Store it"))
	if again := phone.Path(); again != first {
		t.Errorf("sent twice, stored as %s and %s", first, again)
	}
}

// Where scripts do not run, or did not come over a bad network, the plain form does.
func TestTheFormWorksWithoutScripts(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Scripts(false)
	phone.Open("/rigs/harbour-hall/measure")
	phone.Tap(`input[name=method][value=clap]`)
	phone.Tap(`input[name=heard][value=early]`)
	phone.Type("#amount", "0,5")
	phone.Tap(`input[name=changed][value=not-sure]`)
	phone.Follow(browsertest.Named("Store it"))
	phone.Scripts(true)
	phone.Want("Sound early 0.5 frames (16.7 ms)", "cam-1 with lectern")
	m, err := c.Use.Measurement(t.Context(), c.editor(t), c.lastMeasurement(t, "harbour-hall"))
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Settings) != 1 || m.Settings[0].Control != "lectern-delay" {
		t.Errorf("settings %v: those of other pairs were on the form and are not of this measurement", m.Settings)
	}
}

// With a keyboard alone: from the top of the page to a stored measurement.
func TestTheFormWorksWithAKeyboard(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Open("/rigs/van-kit/measure")
	phone.Keys(`input[name=heard]`, kb.ArrowRight+kb.ArrowLeft) // arrows choose within a group
	phone.Type("#amount", "1")
	phone.Keys(`input[name=changed]`, " ")
	phone.FollowKeys("form.measure > button", kb.Enter)
	phone.Want("Sound early 1 frame (40.0 ms)")
}

// What is not read back from a dial is asked for, in words and not as the API says it.
func TestADialThatWasNotReadBackIsAskedFor(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Open("/rigs/van-kit/measure")
	phone.Tap(`input[name=heard][value=in-sync]`)
	phone.Tap(`input[name=changed][value=no]`)
	phone.Type(`[name="dial.boom-delay"]`, " ")
	phone.Tap(browsertest.Named("Store it"))
	phone.Soon("Not stored yet", "Read boom-delay back from its dial")
	phone.Type(`[name="dial.boom-delay"]`, "5,5")
	phone.Tap(browsertest.Named("Store it"))
	phone.Soon("Not stored yet", "step")
	phone.Type(`[name="dial.boom-delay"]`, "5")
	phone.Follow(browsertest.Named("Store it"))
	phone.Want("In sync", "cam-1 with boom")
}

func TestAMistakeIsStruckAndEnteredRight(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Open("/rigs/van-kit/measure")
	phone.Tap(`input[name=method][value=clap]`)
	phone.Tap(`input[name=heard][value=late]`)
	phone.Type("#amount", "2")
	phone.Tap(`input[name=changed][value=no]`)
	phone.Follow(browsertest.Named("Store it"))
	wrong := phone.Path()
	phone.Tap(browsertest.Named("Something is wrong with it"))
	phone.Type("#reason", "It was early")
	phone.Follow(browsertest.Named("Strike it and enter it right"))
	phone.Want("Add a measurement")
	phone.Tap(`input[name=heard][value=early]`)
	phone.Follow(browsertest.Named("Store it"))
	phone.Want("Sound early 2 frames (80.0 ms)")
	phone.Open(wrong)
	phone.Want("Struck out", "It was early")

	// Of somebody else's only an editor may.
	other := c.joined(t, "Kim")
	other.Open(wrong)
	other.Want("Struck out")
	if page := other.Page(); strings.Contains(page, "Let it count") {
		t.Errorf("somebody else's can be restored:\n%s", page)
	}
}

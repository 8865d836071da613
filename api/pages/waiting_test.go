package pages_test

import (
	"os"
	"strings"
	"testing"

	"delaybook/api/pages/browsertest"
	"delaybook/domain/service"

	"github.com/chromedp/chromedp"
)

func contains(page, words string) bool {
	return strings.Contains(strings.ToLower(page), strings.ToLower(words))
}

// fillIn fills the form of a rig in: a clap, frames early.
func fillIn(phone *browsertest.Phone, frames, changed string) {
	chosen := []string{`input[name=method][value=clap]`, `input[name=heard][value=early]`, `input[name=changed][value=` + changed + `]`}
	phone.Within(`document.querySelector("[aria-live]")`) // the script that sends it is there
	for _, choice := range chosen {
		phone.Tap(choice)
	}
	phone.Type("#amount", frames)
	for _, choice := range chosen {
		phone.Within(`document.querySelector("` + choice + `").checked`)
	}
}

// blank is true once the form is free for the next measurement.
const blank = `!document.querySelector("[name=heard]:checked") && document.querySelector("form.measure button:not([type=button])").getAttribute("aria-disabled") === "false"`

// lookAt checks a page that only comes about step by step, in light and dark.
func lookAt(phone *browsertest.Phone, name string) {
	for _, dark := range []bool{false, true} {
		phone.Dark(dark)
		phone.CheckAccess()
		phone.CheckWidth()
		phone.Shoot(os.Getenv(browsertest.ShotsVariable), name+map[bool]string{false: "-light", true: "-dark"}[dark])
	}
	phone.Dark(false)
}

// waits is true once so many items wait on the phone.
func waits(n string) string {
	return `await new Promise((done) => { const o = indexedDB.open("delaybook"); o.onsuccess = () => {
		const q = o.result.transaction("items").objectStore("items").getAll(); q.onsuccess = () => { o.result.close(); done(q.result.filter((i) => i.state !== "sent").length === ` + n + `); } } })`
}

func (c *company) measurements(t *testing.T, rig string) []service.MeasurementView {
	t.Helper()
	all, err := c.Use.Measurements(t.Context(), c.editor(t), rig)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// Network off, two measurements, the browser restarted, network on: two in the
// book, once each and in order.
func TestMeasurementsWaitForTheNetworkThroughARestart(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	before := len(c.measurements(t, "harbour-hall"))
	profile := t.TempDir()
	browser := browsertest.StartBrowser(t, profile)
	phone := browser.Phone(t, c.Site)
	c.join(t, phone, "Sam")
	phone.Open("/rigs/red-van.harbour-hall")
	phone.Within(kept("/rigs/red-van.harbour-hall/measure"))

	phone.Offline()
	phone.Open("/rigs/red-van.harbour-hall/measure")
	phone.Want("As of")
	for i, frames := range []string{"1", "2"} {
		fillIn(phone, frames, []string{"yes", "no"}[i])
		phone.Tap(browsertest.Named("Store it"))
		phone.Within(waits([]string{"1", "2"}[i]))
		phone.Soon("Kept on this phone")
		phone.Within(blank)
	}
	if n := len(c.measurements(t, "harbour-hall")); n != before {
		t.Fatalf("%d measurements without a network", n-before)
	}
	browser.Stop(t)

	again := browsertest.StartBrowser(t, profile).Phone(t, c.Site)
	again.Open("/waiting")
	again.Soon("sound early 1 frame", "sound early 2 frames")
	c.Mend()
	again.Tap(browsertest.Named("Send now"))
	again.Soon("Nothing waits")
	all := c.measurements(t, "harbour-hall")
	if len(all) != before+2 {
		t.Fatalf("%d measurements came of 2", len(all)-before)
	}
	if all[0].Readings[0].Frames.String() != "2" || all[1].Readings[0].Frames.String() != "1" || all[0].PowerUp.ID != all[1].PowerUp.ID {
		t.Errorf("out of order, or in two power-ups: %v, %v", all[0].Readings, all[1].Readings)
	}
}

// One that is refused holds those behind it of its rig and no others; mended, it
// goes first.
func TestARefusedMeasurementIsMendedAndSentAgain(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	hall, van := len(c.measurements(t, "harbour-hall")), len(c.measurements(t, "van-kit"))
	phone := c.joined(t, "Sam")
	phone.Open("/rigs/red-van.van-kit")
	phone.Within(kept("/rigs/red-van.van-kit/measure"))
	phone.Open("/rigs/red-van.harbour-hall")
	phone.Within(kept("/rigs/red-van.harbour-hall/measure"))
	phone.Offline()
	phone.Open("/rigs/red-van.harbour-hall/measure")
	for i, frames := range []string{"0,3", "1"} {
		fillIn(phone, frames, []string{"yes", "no"}[i])
		phone.Tap(browsertest.Named("Store it"))
		phone.Within(waits([]string{"1", "2"}[i]))
		phone.Soon("Kept on this phone")
		phone.Within(blank)
	}
	lookAt(phone, "measure-kept")
	phone.Open("/rigs/red-van.van-kit/measure")
	fillIn(phone, "3", "yes")
	phone.Tap(browsertest.Named("Store it"))
	phone.Within(waits("3"))

	phone.Online()
	phone.Open("/waiting")
	phone.Soon("Not taken", "0,3 frames", "half", "Waits for the one before it", "Sent in the last day", "In the book since")
	if n := len(c.measurements(t, "van-kit")); n != van+1 {
		t.Fatalf("the other rig got %d measurements, want 1", n-van)
	}
	if n := len(c.measurements(t, "harbour-hall")); n != hall {
		t.Fatalf("%d went past the refused one", n-hall)
	}
	lookAt(phone, "waiting-refused")

	phone.Follow(browsertest.Named("Mend it"))
	phone.Soon("Not stored yet")
	lookAt(phone, "measure-refused")
	phone.Type("#amount", "0,5")
	phone.Tap(browsertest.Named("Store it"))
	phone.Soon("Sound early 0.5 frames")
	phone.Within(waits("0"))
	all := c.measurements(t, "harbour-hall")
	if len(all) != hall+2 || all[1].Readings[0].Frames.String() != "0.5" || all[0].Readings[0].Frames.String() != "1" {
		t.Errorf("%d came of 2, newest %v", len(all)-hall, all[0].Readings)
	}
}

// Two tabs find the network back at the same time: each item is sent by one of them.
func TestTwoTabsSendOnce(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	before := len(c.measurements(t, "van-kit"))
	browser := browsertest.StartBrowser(t, t.TempDir())
	first := browser.Phone(t, c.Site)
	c.join(t, first, "Sam")
	first.Open("/rigs/red-van.van-kit")
	first.Within(kept("/rigs/red-van.van-kit/measure"))
	second := browser.Phone(t, c.Site)
	second.Open("/waiting")
	first.Offline()
	first.Open("/rigs/red-van.van-kit/measure")
	for i, changed := range []string{"yes", "no", "no"} {
		fillIn(first, "1", changed)
		first.Tap(browsertest.Named("Store it"))
		first.Within(waits(string(rune('1' + i))))
		first.Soon("Kept on this phone")
		first.Within(blank)
	}
	first.Online()
	second.Online()
	for _, tab := range []*browsertest.Phone{first, second} {
		browsertest.Run(tab, chromedp.Evaluate[any](`dispatchEvent(new Event("online"))`))
	}
	first.Within(waits("0"))
	if n := len(c.measurements(t, "van-kit")); n != before+3 {
		t.Errorf("%d came of 3", n-before)
	}
	sent := 0
	for _, tab := range []*browsertest.Phone{first, second} {
		sent += browsertest.Run(tab, chromedp.Evaluate[int](
			`performance.getEntriesByType("resource").filter((e) => e.name.endsWith("/measure") && e.responseStatus === 200).length`))
	}
	if sent > 3 {
		t.Errorf("3 measurements were sent %d times", sent)
	}
}

// What waits survives signing out, which warns, and is for nobody else.
func TestSigningOutKeepsWhatWaits(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Open("/rigs/red-van.van-kit/measure")
	fillIn(phone, "0,3", "yes")
	phone.Tap(browsertest.Named("Store it"))
	phone.Soon("Not stored yet")

	phone.Open("/me")
	phone.Tap(browsertest.Named("Sign out"))
	phone.Soon("1 thing not sent yet")
	lookAt(phone, "sign-out-warning")
	phone.Tap(`dialog button[value=stay]`)
	phone.Within(`!document.querySelector("dialog")`)
	phone.Tap(browsertest.Named("Sign out"))
	phone.Soon("1 thing not sent yet")
	phone.Follow(`dialog button[value=out]`)
	phone.Soon("paste your key")

	c.join(t, phone, "Kim")
	phone.Open("/waiting")
	phone.Soon("1 thing of Sam (Red van)")
	if page := phone.Page(); contains(page, "0,3") {
		t.Errorf("Kim sees what Sam measured:\n%s", page)
	}
	c.join(t, phone, "Sam")
	phone.Open("/waiting")
	phone.Soon("0,3 frames", "Not taken")
	phone.Tap(browsertest.Named("Drop it"))
	phone.Tap(`dialog button[value=drop]`)
	phone.Soon("Nothing waits")
}

// A session that ended while there was no network loses nothing.
func TestAnEndedSessionKeepsWhatWaits(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	before := len(c.measurements(t, "van-kit"))
	phone := c.joined(t, "Sam")
	phone.Open("/rigs/red-van.van-kit/measure")
	fillIn(phone, "1", "yes")
	c.endSessions(t)
	phone.Tap(browsertest.Named("Store it"))
	phone.Soon("Kept on this phone", "join again")
	phone.Open("/waiting")
	phone.Soon("You are not signed in", "Join again as Sam", "sound early 1 frame")

	// Somebody else does not send it in a name of their own.
	c.join(t, phone, "Kim")
	phone.Open("/waiting")
	phone.Soon("1 thing of Sam")
	phone.Within(`performance.getEntriesByType("resource").some((e) => e.name.endsWith("/session") && e.responseEnd > 0)`)
	if n := len(c.measurements(t, "van-kit")); n != before {
		t.Errorf("Kim sent what Sam measured")
	}
	c.join(t, phone, "Sam")
	phone.Within(waits("0"))
	if n := len(c.measurements(t, "van-kit")); n != before+1 {
		t.Errorf("%d came of 1", n-before)
	}
}

// A crash in the middle of typing loses nothing.
func TestADraftSurvivesACrash(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	profile := t.TempDir()
	browser := browsertest.StartBrowser(t, profile)
	phone := browser.Phone(t, c.Site)
	c.join(t, phone, "Sam")
	phone.Open("/rigs/red-van.van-kit/measure")
	phone.Within(`document.querySelector("[aria-live]")`) // the draft follows the form
	fillIn(phone, "7", "yes")
	phone.Type("#note", "gate on the desk was open")
	phone.Within(`await new Promise((done) => { const o = indexedDB.open("delaybook"); o.onsuccess = () => {
		const q = o.result.transaction("drafts").objectStore("drafts").getAll(); q.onsuccess = () => { o.result.close(); done(JSON.stringify(q.result).includes("was open")); } } })`)
	browser.Crash(t)

	again := browsertest.StartBrowser(t, profile).Phone(t, c.Site)
	c.join(t, again, "Sam") // browsers write cookies later than this
	again.Open("/rigs/red-van.van-kit/measure")
	again.Soon("What you typed at")
	again.Within(`document.querySelector("#note").value === "gate on the desk was open" && document.querySelector("#amount").value === "7" &&
		document.querySelector("[name=method]:checked").value === "clap"`)
	again.Tap(browsertest.Named("Begin anew"))
	again.Within(`document.querySelector("#note").value === ""`)
}

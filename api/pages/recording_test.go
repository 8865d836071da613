package pages_test

import (
	"strings"
	"testing"

	"delaybook/api/pages/browsertest"
	"delaybook/domain/service"

	"github.com/chromedp/chromedp"
)

// send fills the form for a recording in and sends it.
func sendRecording(phone *browsertest.Phone, path, pair string) {
	phone.Open("/rigs/red-van.harbour-hall/record")
	phone.Within(`document.querySelector("[aria-live]")`) // the script is there
	phone.Pick("#file", path)
	phone.Choose("#pair", pair)
	phone.Tap(`input[name=changed][value=yes]`)
	phone.Tap(browsertest.Named("Send it"))
}

func TestARecordingIsSentAnalysedAndAccepted(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	before := len(c.measurements(t, "harbour-hall"))
	phone := c.joined(t, "Sam")
	sendRecording(phone, scriptFile(t, "offset 166.8", "hold 3s"), "cam-1 lectern programme")
	phone.Soon("It is being analysed", "seconds more")
	phone.CheckAccess()
	phone.Soon("Sound early 5 frames (166.8 ms)", "Give or take 3.6 ms", "The flash is overexposed", "Darken the card", "Step it by eye")
	phone.CheckAccess()
	phone.CheckWidth()
	phone.Follow(browsertest.Named("Accept"))
	phone.Want("Sound early 5 frames (166.8 ms)", "cam-1 with lectern, read at programme", "What to set now")
	all := c.measurements(t, "harbour-hall")
	if len(all) != before+1 || all[0].Readings[0].OffsetMS != 166.8 {
		t.Errorf("%d came of 1: %v", len(all)-before, all[0].Readings)
	}
}

func TestStretchesOfARecordingAreAssigned(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	before := len(c.measurements(t, "harbour-hall"))
	phone := c.joined(t, "Sam")
	sendRecording(phone, scriptFile(t, "offset 166.8", "offset -33.4", "offset 10"), "")
	phone.Soon("Sound early 5 frames (166.8 ms)", "Sound late 1 frame (33.4 ms)")
	phone.Follow(browsertest.Named("Accept"))
	phone.Want("Say of a stretch what it compares")
	phone.Choose("#pair\\.1", "cam-1 lectern programme")
	phone.Choose("#pair\\.2", "cam-2 lectern programme")
	phone.Follow(browsertest.Named("Accept"))
	phone.Want("In the book", "cam-1 with lectern, read at programme: sound early 5 frames (166.8 ms)", "cam-2 with lectern, read at programme: sound late 1 frame (33.4 ms)")
	phone.CheckAccess()
	if page := phone.Page(); strings.Contains(page, "-33") {
		t.Errorf("a sign came back:\n%s", page)
	}
	all := c.measurements(t, "harbour-hall")
	if len(all) != before+2 || all[0].PowerUp.ID != all[1].PowerUp.ID {
		t.Errorf("%d came of 2 of one power-up", len(all)-before)
	}
}

func TestARefusedRecordingSaysWhatToTry(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	sendRecording(phone, scriptFile(t, "refuse no-flashes"), "cam-1 lectern programme")
	phone.Soon("No number", "No flash was seen", "Film the card so that it fills the picture", "Step it by eye", "Film it again")
	phone.CheckAccess()
	phone.Tap(browsertest.Named("Reject it"))
	phone.Type("#reason", "out of focus")
	phone.Follow("form[action$=reject] button")
	phone.Want("Rejected", "out of focus")
	phone.Follow(browsertest.Named("Recordings of Harbour Hall"))
	phone.Want("VID_0412.mp4", "rejected")
	phone.CheckAccess()
}

// The network breaks in the middle, the page is opened anew: the upload goes on
// where it was.
func TestAnInterruptedUploadGoesOn(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	path := scriptFile(t, "offset 166.8", strings.Repeat("-", 3_000_000))
	c.Slow(300_000)
	sendRecording(phone, path, "cam-1 lectern programme")
	phone.Within(item(`i.sent > 200_000`))
	address := browsertest.Run(phone, chromedp.Evaluate[string]("(async () => ("+item(`i.upload`)+"))()", chromedp.EvalAwaitPromise))
	phone.Offline()
	phone.Soon("Kept on this phone", "You can close this page")
	phone.Open("/waiting")
	phone.Soon("VID_0412.mp4", "of 3.0 MB arrived")
	arrived := browsertest.Run(phone, chromedp.Evaluate[int]("(async () => ("+item(`i.sent`)+"))()", chromedp.EvalAwaitPromise))
	if arrived < 200_000 || arrived >= 3_000_000 {
		t.Fatalf("%d bytes have arrived, want a part of 3 MB", arrived)
	}
	lookAt(phone, "waiting-recording")
	c.Slow(0)
	phone.Online()
	phone.Within(item(`i.state === "sent"`))
	// The upload that was begun became the clip.
	at := "/clips/" + address[strings.LastIndex(address, "/")+1:]
	if got := browsertest.Run(phone, chromedp.Evaluate[string]("(async () => ("+item(`i.answer`)+"))()", chromedp.EvalAwaitPromise)); got != at {
		t.Errorf("it became %s, want %s", got, at)
	}
	phone.Open(at)
	phone.Soon("Sound early 5 frames (166.8 ms)")
}

// A recording that is too large to be kept is picked again, and goes on too.
func TestALargeRecordingIsPickedAgain(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	path := scriptFile(t, "offset 166.8", strings.Repeat("-", 3_000_000))
	c.Slow(300_000)
	phone.Open("/rigs/red-van.harbour-hall/record")
	phone.Within(`document.querySelector("[aria-live]")`)
	browsertest.Run(phone, chromedp.Evaluate[any](`navigator.storage.estimate = async () => ({ quota: 2_000_000, usage: 0 }); undefined`))
	phone.Pick("#file", path)
	phone.Tap(`input[name=changed][value=yes]`)
	phone.Tap(browsertest.Named("Send it"))
	phone.Within(item(`i.sent > 200_000 && !i.file`))
	address := browsertest.Run(phone, chromedp.Evaluate[string]("(async () => ("+item(`i.upload`)+"))()", chromedp.EvalAwaitPromise))
	phone.Offline()
	phone.Soon("Kept on this phone", "too large to be kept")
	phone.Open("/waiting")
	phone.Soon("pick it again")
	lookAt(phone, "waiting-pick-again")
	c.Slow(0)
	phone.Online()
	phone.Follow(browsertest.Named("Pick it again"))
	phone.Within(`document.querySelector("[name=changed]:checked")`) // filled in as it was
	phone.Pick("#file", path)
	phone.Tap(browsertest.Named("Send it"))
	phone.Soon("Sound early 5 frames (166.8 ms)")
	if got, want := phone.Path(), "/clips/"+address[strings.LastIndex(address, "/")+1:]; got != want {
		t.Errorf("it became %s, want %s", got, want)
	}
}

// Where events do not come through, the page asks.
func TestAnAnalysisIsFollowedWithoutEvents(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Block("/v1/clips/*/events")
	phone.Open("/clips/" + c.clip(t, service.ClipAnalysing, "offset 166.8", "hold 4s"))
	phone.Soon("It is being analysed")
	phone.Soon("Sound early 5 frames (166.8 ms)")
}

// item is an expression of the first item of the queue.
func item(of string) string {
	return `await new Promise((done) => { const o = indexedDB.open("delaybook"); o.onsuccess = () => {
		const q = o.result.transaction("items").objectStore("items").getAll(); q.onsuccess = () => { o.result.close(); const i = q.result[0]; done(i && (` + of + `)); } } })`
}

// Without scripts the same form does it all.
func TestARecordingIsSentWithoutScripts(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Scripts(false)
	phone.Open("/rigs/red-van.harbour-hall/record")
	phone.Tap(`input[name=changed][value=no]`)
	phone.Follow(browsertest.Named("Send it"))
	phone.Pick("#file", scriptFile(t, "offset 166.8"))
	phone.Follow(browsertest.Named("Send it"))
	for range 50 {
		if phone.Scripts(true); contains(phone.Page(), "Accept") {
			break
		}
		phone.Scripts(false)
		phone.Open(phone.Path())
	}
	phone.Want("Sound early 5 frames (166.8 ms)")
}

package pages_test

import (
	"slices"
	"strings"
	"testing"

	"delaybook/api/pages/browsertest"
	"delaybook/domain/service"

	"github.com/chromedp/chromedp"
)

// fillQuiet fills the form in: the lectern against the hand-held microphone. script
// says whether the page's is to be waited for.
func fillQuiet(phone *browsertest.Phone, script bool, files ...string) {
	phone.Open("/rigs/red-van.harbour-hall/quiet")
	if script {
		phone.Within(`document.querySelector("[aria-live]")`)
	}
	for i, file := range files {
		phone.Pick([]string{"#file", "#file2"}[i], file)
	}
	phone.Choose("#first", "hand")
	phone.Choose("#second", "lectern")
	phone.Type(`[name="dial.lectern-delay"]`, "0")
	phone.Type(`[name="dial.hand-delay"]`, "0")
	phone.Tap(`input[name=changed][value=no]`)
}

// The hand-held microphone comes 3.4 ms after the lectern's: the offset is the
// first track minus the second.
func TestAQuietCheckTakesTwoFiles(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	before := len(c.measurements(t, "harbour-hall"))
	phone := c.joined(t, "Sam")
	phone.Open("/rigs/red-van.harbour-hall/quiet")
	phone.Want("nothing is played into the room", "The first track is", "the camera's microphone, say")
	fillQuiet(phone, true, scriptFile(t, "offset 3.4", "hold 1s"), scriptFile(t, "the second"))
	phone.Within(`document.querySelector("[data-dial=pa-delay]").hidden`)
	phone.CheckAccess()
	phone.CheckWidth()
	phone.CheckTargets()
	phone.Tap(browsertest.Named("Send it"))
	phone.Soon("Hand is late: it comes 3.4 ms after lectern", "Give or take 3.6 ms")
	phone.CheckAccess()
	phone.Follow(browsertest.Named("Accept"))
	phone.Want("hand after lectern by 3.4 ms", "What it says of the picture", "with lectern, programme", "before:")
	phone.CheckAccess()
	all := c.measurements(t, "harbour-hall")
	if len(all) != before+1 || all[0].Method != "tracks" || all[0].First != "hand" || all[0].Readings[0].OffsetMS != 3.4 {
		t.Errorf("%d came of 1: %+v", len(all)-before, all[0].Measurement)
	}
	clips, err := c.Clips.OfRig(t.Context(), c.editor(t), "harbour-hall")
	if err != nil || len(clips) != 1 || len(clips[0].Files) != 2 {
		t.Errorf("clips: %+v %v", clips, err)
	}
}

// The network breaks within the second file: it goes on there, and nothing of the
// first is sent again.
func TestASecondTrackThatWasInterruptedGoesOn(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	fillQuiet(phone, true, scriptFile(t, "offset 3.4"), scriptFile(t, strings.Repeat("-", 3_000_000)))
	c.Slow(300_000)
	phone.Tap(browsertest.Named("Send it"))
	phone.Within(item(`i.clip && i.sent > 200_000`))
	phone.Offline()
	phone.Within(item(`i.tries > 0`))
	first := browsertest.Run(phone, chromedp.Evaluate[string]("(async () => ("+item(`i.clip`)+"))()", chromedp.EvalAwaitPromise))
	c.Slow(0)
	phone.Online()
	phone.Within(item(`i.state === "sent"`))
	phone.Open(strings.TrimPrefix(first, "/v1"))
	phone.Soon("Hand is late: it comes 3.4 ms after lectern")
	clips, err := c.Clips.OfRig(t.Context(), c.editor(t), "harbour-hall")
	if err != nil || len(clips) != 1 || len(clips[0].Files) != 2 || clips[0].Files[1].Size != 3_000_000 {
		t.Errorf("clips: %+v %v", clips, err)
	}
}

// One file with two channels, by a plain form; what is missing is said first.
func TestAQuietCheckWithoutScripts(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Scripts(false)
	phone.Open("/rigs/red-van.harbour-hall/quiet")
	phone.Follow(browsertest.Named("Send it"))
	phone.Scripts(true)
	phone.Want("Pick the recording", "Say which sound the first track is", "Say whether anything was switched off")
	phone.CheckAccess()
	phone.Scripts(false)
	fillQuiet(phone, false, scriptFile(t, "refuse tonal"))
	phone.Choose("#second", "hand")
	phone.Follow(browsertest.Named("Send it"))
	phone.Scripts(true)
	phone.Want("Say which other sound the second track is")
}

func TestAQuietCheckThatGivesNoNumberSaysWhatToTry(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	fillQuiet(phone, true, scriptFile(t, "refuse tonal"))
	phone.Tap(browsertest.Named("Send it"))
	phone.Soon("No number", "Film the card", "Record it again")
	if page := phone.Page(); contains(page, "Step it by eye") {
		t.Errorf("two sounds can not be stepped by eye:\n%s", page)
	}
	phone.Follow(browsertest.Named("Record it again"))
	phone.Want("Quiet check", "gives no number")
}

// A rig with a chain for the camera's microphone that was compared with its
// picture learns of the picture by the sounds alone; the estimate says so.
func TestAQuietCheckTellsOfThePicture(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	fillQuiet(phone, true, scriptFile(t, "offset -24"))
	phone.Tap(browsertest.Named("Send it"))
	phone.Soon("Lectern is late")
	phone.Follow(browsertest.Named("Accept"))
	m := c.measurements(t, "harbour-hall")[0]
	offsets, err := c.Use.Offsets(t.Context(), c.editor(t), "harbour-hall")
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range offsets.Offsets {
		if o.First != "cam-1" || o.Second != "lectern" || o.Destination != "programme" {
			continue
		}
		counts := slices.ContainsFunc(o.Evidence, func(e service.Evidence) bool { return e.Measurement == m.ID.String() })
		if !counts {
			t.Errorf("the tracks are no evidence of cam-1 with lectern: %+v", o.Evidence)
		}
	}
}

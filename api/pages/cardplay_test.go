package pages_test

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"delaybook/api/pages/browsertest"
	"delaybook/domain/card"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// watchCard notes each flash that is drawn and each beep that is handed over.
const watchCard = `
window.noted = {flashes: [], beeps: [], gains: []};
addEventListener("DOMContentLoaded", () => {
	new MutationObserver(() => noted.flashes.push({at: performance.now() / 1000, heard: soundNow(), lit: area.classList.contains("lit")}))
		.observe(area, {attributes: true, attributeFilter: ["class"]});
});
let context = null;
// Where the sound that is heard now stands on its own clock, by the browser's word.
const soundNow = () => {
	const stamp = context.getOutputTimestamp();
	return stamp.contextTime + (performance.now() - stamp.performanceTime) / 1000;
};
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (when) {
	context = this.context;
	noted.beeps.push({due: when, ahead: when - context.currentTime, samples: Array.from(this.buffer.getChannelData(0)), rate: this.buffer.sampleRate});
	return start.call(this, when);
};
const target = AudioParam.prototype.setTargetAtTime;
AudioParam.prototype.setTargetAtTime = function (value, ...rest) { noted.gains.push(value); return target.call(this, value, ...rest); };
`

type cardNotes struct {
	Flashes []struct {
		At, Heard float64 // s on the clocks of the page and of the sound
		Lit       bool
	}
	Beeps []cardBeep
	Gains []float64
}

type cardBeep struct {
	Due, Ahead, Rate float64
	Samples          []float64
}

// openCard opens the page of the card on a phone that notes what it does.
func openCard(t *testing.T) *browsertest.Phone {
	t.Helper()
	phone := browsertest.NewPhone(t, newCompany(t).Site)
	_, err := chromedp.Call(phone.Context(), page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: watchCard})
	if err != nil {
		t.Fatal(err)
	}
	phone.Open("/card")
	return phone
}

func eval[T any](phone *browsertest.Phone, script string) T {
	return browsertest.Run(phone, chromedp.Evaluate[T](script))
}

func noted(t *testing.T, phone *browsertest.Phone) (n cardNotes) {
	t.Helper()
	if err := json.Unmarshal([]byte(eval[string](phone, `JSON.stringify(noted)`)), &n); err != nil {
		t.Fatal(err)
	}
	return n
}

// waitFlashes waits until so many flashes have come and gone.
func waitFlashes(t *testing.T, phone *browsertest.Phone, n int) cardNotes {
	t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(200 * time.Millisecond) {
		if got := noted(t, phone); len(got.Flashes) >= 2*n {
			return got
		}
	}
	t.Fatalf("no %d flashes came: %s", n, phone.Page())
	return cardNotes{}
}

// TestNothingFlashesUntold: no flash before a tap, no tap before the warning and
// the way of the sound, and none over Bluetooth.
func TestNothingFlashesUntold(t *testing.T) {
	t.Parallel()
	phone := openCard(t)
	says := func() string { return phone.Text("#say") }
	disabled := func() bool { return eval[bool](phone, `document.getElementById("start").disabled`) }
	if !disabled() {
		t.Error("it can be started at once")
	}
	phone.Tap(`input[value=air]`)
	phone.Tap(`#warned`)
	if !disabled() || !strings.Contains(says(), "Not over Bluetooth") {
		t.Errorf("over Bluetooth it says %q", says())
	}
	phone.Tap(`#warned`)
	phone.Tap(`input[value=wire]`)
	if !disabled() || !strings.Contains(says(), "Warn everybody") {
		t.Errorf("without a warning it says %q", says())
	}
	phone.Tap(`#warned`)
	if disabled() {
		t.Errorf("it can not be started: %q", says())
	}
	if n := noted(t, phone); len(n.Flashes)+len(n.Beeps) > 0 {
		t.Errorf("before the tap: %+v", n)
	}
	phone.CheckWidth()
	small := eval[string](phone, `[...document.querySelectorAll("main button, main select, main summary, label.pick, .files a")].filter((e) => e.checkVisibility()
		&& e.getBoundingClientRect().height < 44).map((e) => e.outerHTML).join()`)
	if small != "" {
		t.Errorf("too small to hit: %s", small)
	}
}

// TestThePagePlaysTheCard taps and compares what is drawn and handed over with the
// card, and ends it.
func TestThePagePlaysTheCard(t *testing.T) {
	t.Parallel()
	phone := openCard(t)
	phone.Tap(`input[value=wire]`)
	phone.Tap(`#warned`)
	phone.Tap(`#start`)
	n := waitFlashes(t, phone, 3)
	// Beeps are due exactly as the card says, well ahead, and have its samples.
	if len(n.Beeps) < 4 {
		t.Fatalf("%d beeps were handed over", len(n.Beeps))
	}
	for k, beep := range n.Beeps {
		if off := beep.Due - n.Beeps[0].Due - float64(card.StartMS(k))/1000; math.Abs(off) > 1e-9 || beep.Ahead < 0.1 {
			t.Errorf("beep %d is due %g s off, handed over %g s ahead", k, off, beep.Ahead)
		}
	}
	checkTone(t, n.Beeps[0].Samples, n.Beeps[0].Rate)
	checkFlashes(t, n)
	if n.Gains[0] != 0 || len(n.Gains) != 1 {
		t.Errorf("it starts with the gains %v, want silence", n.Gains)
	}
	phone.Tap(`#louder`)
	if got := noted(t, phone).Gains; got[len(got)-1] <= 0 || got[len(got)-1] > 0.02 {
		t.Errorf("a step from silence gives the gains %v", got)
	}
	share := eval[float64](phone, `(() => { const r = area.getBoundingClientRect(); return r.width * r.height / (innerWidth * innerHeight); })()`)
	if math.Abs(share-card.AreaShare) > 0.01 {
		t.Errorf("the area has %g of the screen", share)
	}
	phone.Tap(`#stop`)
	if !eval[bool](phone, `stage.hidden && !facts.hidden`) || !strings.Contains(eval[string](phone, `facts.textContent`), "refreshes") {
		t.Errorf("after the stop it says %q", eval[string](phone, `facts.textContent`))
	}
	before := len(noted(t, phone).Flashes)
	time.Sleep(1500 * time.Millisecond)
	if len(noted(t, phone).Flashes) != before {
		t.Error("it flashes on after the stop")
	}
}

// checkTone compares samples with the formula of the card at the browser's own rate.
func checkTone(t *testing.T, samples []float64, rate float64) {
	t.Helper()
	if got := float64(len(samples)) / rate * 1000; math.Abs(got-card.BeepMS) > 0.1 {
		t.Errorf("the tone lasts %g ms", got)
	}
	if rate != card.SampleRate {
		t.Logf("the browser runs at %g Hz: only the length is compared", rate)
		return
	}
	for i, want := range card.Beep() {
		if math.Abs(samples[i]-want) > 1e-6 { // 32-bit numbers
			t.Fatalf("sample %d is %g, want %g", i, samples[i], want)
		}
	}
}

// checkFlashes compares flashes with the beeps by the browser's own word on its
// clocks. A flash may be missing, because a busy browser leaves out what would be
// late, and may not be where there is no beep. A refresh is 16.7 ms, and the word
// jitters on a machine that does other work.
func checkFlashes(t *testing.T, n cardNotes) {
	t.Helper()
	const near = 0.08
	last := -1
	for k := 0; k+1 < len(n.Flashes); k += 2 {
		on, off := n.Flashes[k], n.Flashes[k+1]
		if !on.Lit || off.Lit {
			t.Fatalf("flashes are %+v", n.Flashes)
		}
		of := slices.IndexFunc(n.Beeps, func(b cardBeep) bool { return math.Abs(on.Heard-b.Due) <= near })
		if of <= last {
			t.Errorf("flash %d at %g s belongs to no beep after beep %d", k/2, on.Heard, last)
			continue
		}
		last = of
		t.Logf("flash %d drawn %.1f ms after beep %d, %.1f ms long", k/2, (on.Heard-n.Beeps[of].Due)*1000, of, (off.At-on.At)*1000)
		if long := off.At - on.At; math.Abs(long-card.FlashMS/1000.0) > near {
			t.Errorf("flash %d lasts %g s", k/2, long)
		}
	}
}

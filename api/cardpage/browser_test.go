package cardpage_test

import (
	"context"
	"encoding/json"
	"math"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"delaybook/domain/card"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// watch notes in the page what must not happen, each flash, and each beep that is handed over.
const watch = `
window.noted = {breaches: [], flashes: [], beeps: [], gains: []};
addEventListener("securitypolicyviolation", (e) => noted.breaches.push(e.effectiveDirective + " " + e.blockedURI));
addEventListener("error", (e) => noted.breaches.push(String(e.message)));
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

type notes struct {
	Breaches []string
	Flashes  []struct {
		At, Heard float64 // s on the clocks of the page and of the sound
		Lit       bool
	}
	Beeps []struct {
		Due, Ahead, Rate float64
		Samples          []float64
	}
	Gains []float64
}

// A tab is the page in Chromium, as wide as a narrow phone.
type tab struct {
	t   *testing.T
	ctx context.Context
}

func open(t *testing.T) tab {
	t.Helper()
	server := httptest.NewServer(handler(t))
	t.Cleanup(server.Close)
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath("chromium"), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("mute-audio", true))
	outer, endBrowser := chromedp.NewExecAllocator(context.WithoutCancel(t.Context()), options...)
	t.Cleanup(endBrowser)
	inner, _ := chromedp.NewContext(outer)
	ctx, cancel := context.WithTimeout(inner, 2*time.Minute)
	t.Cleanup(cancel)
	b := tab{t, ctx}
	b.must(chromedp.Do(inner)) // starts it; the time limit of ctx must not end the browser before its tab
	b.must(chromedp.Do(ctx, chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch)))
	_, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: watch})
	b.must(err)
	b.must(chromedp.Do(ctx, chromedp.Navigate(server.URL+"/card")))
	return b
}

func (b tab) must(err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatalf("the browser: %v (.ci/setup installs chromium)", err)
	}
}

func eval[T any](b tab, script string) T {
	b.t.Helper()
	value, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](script))
	b.must(err)
	return value
}

func (b tab) click(selector string) {
	b.t.Helper()
	b.must(chromedp.Do(b.ctx, chromedp.Click(chromedp.CSS(selector))))
}

func (b tab) says() string { return eval[string](b, `say.textContent`) }

func (b tab) noted() (n notes) {
	b.t.Helper()
	b.must(json.Unmarshal([]byte(eval[string](b, `JSON.stringify(noted)`)), &n))
	return n
}

// waitFlashes waits until so many flashes have been drawn.
func (b tab) waitFlashes(n int) notes {
	b.t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(200 * time.Millisecond) {
		got := b.noted()
		if len(got.Flashes) >= 2*n {
			return got
		}
	}
	b.t.Fatalf("no %d flashes came: %s", n, b.says())
	return notes{}
}

// TestNothingStartsUntold: no flash before a tap, no tap before the warning and
// the way of the sound, and none over Bluetooth.
func TestNothingStartsUntold(t *testing.T) {
	t.Parallel()
	b := open(t)
	disabled := func() bool { return eval[bool](b, `document.getElementById("start").disabled`) }
	if !disabled() {
		t.Error("it can be started at once")
	}
	b.click(`input[value=air]`)
	b.click(`#warned`)
	if !disabled() || !strings.Contains(b.says(), "Not over Bluetooth") {
		t.Errorf("over Bluetooth it says %q", b.says())
	}
	b.click(`#warned`)
	b.click(`input[value=wire]`)
	if !disabled() || !strings.Contains(b.says(), "Warn everybody") {
		t.Errorf("without a warning it says %q", b.says())
	}
	b.click(`#warned`)
	if disabled() {
		t.Errorf("it can not be started: %q", b.says())
	}
	if n := b.noted(); len(n.Flashes)+len(n.Beeps) > 0 || len(n.Breaches) > 0 {
		t.Errorf("before the tap: %+v", n)
	}
	if wide := eval[string](b, `[...document.querySelectorAll("main *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1).map((e) => e.tagName).join()`); wide != "" {
		t.Errorf("wider than the phone: %s", wide)
	}
	small := eval[string](b, `[...document.querySelectorAll("main button, main select, main summary, label.pick, td a")].filter((e) => e.checkVisibility()
		&& e.getBoundingClientRect().height < 44).map((e) => e.outerHTML).join()`)
	if small != "" {
		t.Errorf("too small to hit: %s", small)
	}
}

// TestItPlaysTheSequence taps and compares what is drawn and handed over with the
// card, and ends it.
func TestItPlaysTheSequence(t *testing.T) {
	t.Parallel()
	b := open(t)
	b.click(`input[value=wire]`)
	b.click(`#warned`)
	b.click(`#start`)
	n := b.waitFlashes(3)
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
	// Flashes: a refresh is 16.7 ms; a machine that does other work misses some.
	const late = 0.1
	for k := range 3 {
		on, off := n.Flashes[2*k], n.Flashes[2*k+1]
		if !on.Lit || off.Lit {
			t.Fatalf("flashes are %+v", n.Flashes)
		}
		t.Logf("flash %d drawn %.1f ms after its beep by the browser's clock, %.1f ms long", k, (on.Heard-n.Beeps[k].Due)*1000, (off.At-on.At)*1000)
		if apart := on.Heard - n.Beeps[k].Due; math.Abs(apart) > late {
			t.Errorf("flash %d is %g s from its beep", k, apart)
		}
		if long := off.At - on.At; math.Abs(long-card.FlashMS/1000.0) > late {
			t.Errorf("flash %d lasts %g s", k, long)
		}
	}
	if n.Gains[0] != 0 || len(n.Gains) != 1 {
		t.Errorf("it starts with the gains %v, want silence", n.Gains)
	}
	b.click(`#louder`)
	if got := b.noted().Gains; got[len(got)-1] <= 0 || got[len(got)-1] > 0.02 {
		t.Errorf("a step from silence gives the gains %v", got)
	}
	share := eval[float64](b, `(() => { const r = area.getBoundingClientRect(); return r.width * r.height / (innerWidth * innerHeight); })()`)
	if math.Abs(share-card.AreaShare) > 0.01 {
		t.Errorf("the area has %g of the screen", share)
	}
	b.click(`#stop`)
	if !eval[bool](b, `stage.hidden && !facts.hidden`) || !strings.Contains(eval[string](b, `facts.textContent`), "refreshes") {
		t.Errorf("after the stop it says %q", eval[string](b, `facts.textContent`))
	}
	before := len(b.noted().Flashes)
	time.Sleep(1500 * time.Millisecond)
	after := b.noted()
	if len(after.Flashes) != before {
		t.Error("it flashes on after the stop")
	}
	if len(after.Breaches) > 0 {
		t.Errorf("breaches: %v", after.Breaches)
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

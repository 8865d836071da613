package pages_test

import (
	"testing"
	"time"

	"delaybook/api/pages/browsertest"

	"github.com/chromedp/chromedp"
)

// With no page open the browser wakes the service worker, which sends what waits.
func TestWhatWaitsIsSentWithNoPageOpen(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	before := len(c.measurements(t, "van-kit"))
	phone := browsertest.StartBrowser(t, t.TempDir()).Phone(t, c.Site)
	c.join(t, phone, "Sam")
	phone.CheckInstallable()
	phone.Open("/rigs/red-van.van-kit")
	phone.Within(kept("/rigs/red-van.van-kit/measure"))
	phone.Offline()
	phone.Open("/rigs/red-van.van-kit/measure")
	fillIn(phone, "1", "yes")
	phone.Tap(browsertest.Named("Store it"))
	phone.Soon("Kept on this phone")
	phone.Leave()
	phone.Online()
	phone.Wake("send")
	for range 100 {
		if len(c.measurements(t, "van-kit")) > before {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	if n := len(c.measurements(t, "van-kit")); n != before+1 {
		t.Errorf("%d came of 1", n-before)
	}
}

// All that is kept for a time without a network comes quickly over a bad one, too.
func TestWhatIsKeptForLaterIsSmall(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	phone := c.joined(t, "Sam")
	phone.Within(`(await navigator.serviceWorker.ready).active`)
	const size = `(async () => { let n = 0; for (const name of await caches.keys()) { if (!name.startsWith("shell ")) continue; const cache = await caches.open(name);
		for (const key of await cache.keys()) n += (await (await cache.match(key)).blob()).size; } return n; })()`
	n := browsertest.Run(phone, chromedp.Evaluate[int](size, chromedp.EvalAwaitPromise))
	t.Logf("%d bytes are kept for pages without a network", n)
	const most = 100_000
	if n < 1000 || n > most {
		t.Errorf("%d bytes are kept, want at most %d", n, most)
	}
}

package browsertest

import (
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/serviceworker"
)

// Leave closes the page: nothing of the site is open any more.
func (p *Phone) Leave() {
	p.tb.Helper()
	call(p, page.Navigate, page.NavigateParams{URL: "about:blank"})
}

// Wake lets the browser wake the service worker of the site with what it asked
// to be woken for, as browsers do when the network is back and no page is open.
func (p *Phone) Wake(tag string) {
	p.tb.Helper()
	call(p, serviceworker.Enable, cdp.Empty{})
	for range int(patience / lookEvery) {
		p.mu.Lock()
		worker := p.worker
		p.mu.Unlock()
		if worker != "" {
			call(p, serviceworker.DispatchSyncEvent, serviceworker.DispatchSyncEventParams{
				Origin: p.site.URL, RegistrationID: worker, Tag: tag,
			})
			return
		}
		time.Sleep(lookEvery)
	}
	p.tb.Fatal("the site has no service worker")
}

// CheckInstallable fails the test for all that keeps the browser from offering to
// put the site on the home screen.
func (p *Phone) CheckInstallable() {
	p.tb.Helper()
	for _, e := range call(p, page.GetInstallabilityErrors, cdp.Empty{}).InstallabilityErrors {
		p.tb.Errorf("the site can not be installed: %s %v", e.ErrorID, e.ErrorArguments)
	}
}

package browsertest

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"
)

// The size of a phone, CSS pixels: the narrowest that pages are made for.
const (
	Width  = 360
	Height = 740
)

// patience is how long a phone waits for what should come.
const patience = 30 * time.Second

// A Phone is a browser with a profile of its own, which visits one site. Every
// method that can not do what it says ends the test.
type Phone struct {
	tb   testing.TB
	site *Site
	ctx  context.Context

	mu     sync.Mutex
	faults []string
	bytes  float64
	worker serviceworker.RegistrationID
}

// NewPhone takes a phone out of the box: no cookie, no cache. At the end of the
// test it fails the test for every fault that it noticed; see [Phone.Faults].
func NewPhone(tb testing.TB, site *Site) *Phone {
	tb.Helper()
	return newPhone(tb, site, sharedBrowser(tb), chromedp.WithNewBrowserContext())
}

// Phone is a phone that keeps what it knows in the profile of the browser.
func (b *Browser) Phone(tb testing.TB, site *Site) *Phone {
	tb.Helper()
	return newPhone(tb, site, b)
}

func newPhone(tb testing.TB, site *Site, in *Browser, options ...chromedp.ContextOption) *Phone {
	tb.Helper()
	p := &Phone{tb: tb, site: site}
	ctx, end := chromedp.NewContext(in.ctx, append(options, chromedp.WithListener(p.notice))...)
	p.ctx = ctx
	tb.Cleanup(func() {
		end()
		for _, fault := range p.Faults() {
			tb.Errorf("the phone noticed: %s", fault)
		}
	})
	// The tab lives as long as the context that it is first used with.
	if err := chromedp.Do(ctx); err != nil {
		tb.Fatalf("browsertest: open a tab: %v", err)
	}
	p.Resize(Width, Height)
	call(p, runtime.AddBinding, runtime.AddBindingParams{Name: breachBinding})
	call(p, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: watchBreaches})
	return p
}

// watchBreaches reports every breach of a page's policy.
const (
	breachBinding = "policyBreach"
	watchBreaches = `addEventListener("securitypolicyviolation", (e) =>
		policyBreach(e.effectiveDirective + " " + e.blockedURI + " " + e.sourceFile + ":" + e.lineNumber));`
)

// notice looks at all that the browser tells.
func (p *Phone) notice(event any) {
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		at, err := url.Parse(e.Request.URL)
		if err != nil || at.Scheme != "data" && at.Scheme != "blob" && at.Scheme != "chrome-error" && at.Scheme+"://"+at.Host != p.site.URL {
			p.fault("request to another host: %s", e.Request.URL)
		}
	case *network.EventLoadingFinished:
		p.mu.Lock()
		p.bytes += e.EncodedDataLength
		p.mu.Unlock()
	case *serviceworker.EventWorkerRegistrationUpdated:
		for _, r := range e.Registrations {
			if strings.HasPrefix(r.ScopeURL, p.site.URL) && !r.IsDeleted {
				p.mu.Lock()
				p.worker = r.RegistrationID
				p.mu.Unlock()
			}
		}
	case *runtime.EventBindingCalled:
		if e.Name == breachBinding {
			p.fault("breach of the policy: %s", e.Payload)
		}
	case *runtime.EventExceptionThrown:
		p.fault("error in a script: %s %v", e.ExceptionDetails.Text, e.ExceptionDetails.Exception.Description)
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError && e.Entry.Source != log.EntrySourceNetwork {
			p.fault("error: %s", e.Entry.Text)
		}
	}
}

func (p *Phone) fault(format string, args ...any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.faults = append(p.faults, fmt.Sprintf(format, args...))
}

// Faults returns what must not happen and did, since the last call: breaches of
// the policy, requests to other hosts, errors in scripts.
func (p *Phone) Faults() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	faults := p.faults
	p.faults = nil
	return faults
}

// Transferred returns how many bytes came over the network since the last call,
// headers included.
func (p *Phone) Transferred() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	n := p.bytes
	p.bytes = 0
	return int(n)
}

// Context is the phone's, for actions of chromedp that this package has no word for.
func (p *Phone) Context() context.Context { return p.ctx }

// Dark sets whether the phone is set to dark pages.
func (p *Phone) Dark(dark bool) {
	p.tb.Helper()
	scheme := "light"
	if dark {
		scheme = "dark"
	}
	call(p, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}},
	})
}

// Paper shows pages as they are printed.
func (p *Phone) Paper() {
	p.tb.Helper()
	call(p, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
}

// Resize makes the phone another device, CSS pixels wide and tall.
func (p *Phone) Resize(width, height int64) {
	p.tb.Helper()
	p.do(chromedp.EmulateViewport(width, height, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait, chromedp.EmulateScale(2)))
}

// Zone sets the time zone of the phone, such as "Pacific/Auckland".
func (p *Phone) Zone(name string) {
	p.tb.Helper()
	call(p, emulation.SetTimezoneOverride, emulation.SetTimezoneOverrideParams{TimezoneID: name})
}

// Scripts sets whether the phone runs the scripts of the pages that it opens.
func (p *Phone) Scripts(run bool) {
	p.tb.Helper()
	call(p, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !run})
}

var errPatience = errors.New("it did not come in time")

func (p *Phone) patient() (context.Context, context.CancelFunc) {
	return context.WithTimeoutCause(p.ctx, patience, errPatience)
}

func (p *Phone) do(steps ...chromedp.Action[chromedp.Void]) {
	p.tb.Helper()
	ctx, cancel := p.patient()
	defer cancel()
	p.must(ctx, chromedp.Do(ctx, steps...))
}

// must ends the test with what the phone shows.
func (p *Phone) must(ctx context.Context, err error) {
	p.tb.Helper()
	if err == nil {
		return
	}
	brief, cancel := context.WithTimeout(p.ctx, time.Second)
	defer cancel()
	shown, _ := chromedp.Run(brief, chromedp.Evaluate[string](`location.href + "\n" + document.body.innerText`))
	p.tb.Fatalf("the phone: %v (%v)\nit shows:\n%s", err, context.Cause(ctx), strings.TrimSpace(shown))
}

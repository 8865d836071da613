// Package browsertest shows pages to a real Chromium at the size of a phone,
// over TLS and under a host name, and notices what must not happen: a breach of
// the pages' policy, a request to another host, an error in a script.
//
//	func TestMain(m *testing.M) { browsertest.Main(func() { dbtest.Main(m, migrations.Up) }) }
//
//	func TestAPage(t *testing.T) {
//		site := browsertest.Serve(t, store, time.Now)
//		phone := browsertest.NewPhone(t, site)
//		phone.SignIn(key)
//		phone.Open("/rigs")
//		phone.Follow(browsertest.Named("Harbour Hall"))
//		phone.Want("what to set")
//	}
//
// A test fails when there is no Chromium: .ci/setup brings it.
package browsertest

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// Host is the name under which phones reach a site. It is nobody's: names that
// end in .test are kept for tests (RFC 6761).
const Host = "book.test"

// A Browser is a running Chromium.
type Browser struct {
	ctx  context.Context
	stop func() error
}

// The browser that the tests of a binary share; each phone has a profile of its own in it.
var (
	begin   sync.Once
	shared  *Browser
	failure error
)

// Main runs the tests of a package and ends the browser that they shared.
func Main(run func()) {
	run()
	if shared == nil {
		return
	}
	if err := shared.stop(); err != nil {
		fmt.Fprintln(os.Stderr, "browsertest:", err)
	}
}

func sharedBrowser(tb testing.TB) *Browser {
	tb.Helper()
	begin.Do(func() {
		dir, err := os.MkdirTemp("", "browsertest")
		if err == nil {
			shared, failure = start(context.WithoutCancel(tb.Context()), dir)
		}
		if failure = errors.Join(failure, err); failure == nil {
			end := shared.stop
			shared.stop = func() error { return errors.Join(end(), os.RemoveAll(dir)) }
		}
	})
	if failure != nil {
		tb.Fatalf("browsertest: no browser to test with (.ci/setup brings one): %v", failure)
	}
	return shared
}

// StartBrowser starts a browser of one's own, whose profile is in a folder: one
// that starts there later is the same after a restart. It ends with the test, or
// at Stop.
func StartBrowser(tb testing.TB, profile string) *Browser {
	tb.Helper()
	b, err := start(context.WithoutCancel(tb.Context()), profile)
	if err != nil {
		tb.Fatalf("browsertest: %v", err)
	}
	tb.Cleanup(func() { b.Stop(tb) })
	return b
}

// Stop ends a browser. Stopping it again does nothing.
func (b *Browser) Stop(tb testing.TB) {
	tb.Helper()
	if b.stop == nil {
		return
	}
	if err := b.stop(); err != nil {
		tb.Errorf("browsertest: end the browser: %v", err)
	}
	b.stop = nil
}

// Crash ends a browser as a crash or an empty battery does: it writes nothing more.
func (b *Browser) Crash(tb testing.TB) {
	tb.Helper()
	if err := chromedp.FromContext(b.ctx).Browser.Process().Kill(); err != nil {
		tb.Fatalf("browsertest: end the browser: %v", err)
	}
	_ = b.stop() // it tells of the crash
	b.stop = nil
}

const startTime = time.Minute // a browser on a busy machine

func start(ctx context.Context, profile string) (*Browser, error) {
	ca, err := authority()
	if err != nil {
		return nil, err
	}
	// The browser believes certificates that our own authority signed and no others: its key is named by hash.
	pin := sha256.Sum256(ca.cert.RawSubjectPublicKeyInfo)
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath("chromium"), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(profile),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("host-resolver-rules", "MAP "+Host+" 127.0.0.1, MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"),
		chromedp.Flag("ignore-certificate-errors-spki-list", base64.StdEncoding.EncodeToString(pin[:])),
	)
	outer, endAllocator := chromedp.NewExecAllocator(ctx, options...)
	inner, _ := chromedp.NewContext(outer)
	slow, giveUp := context.WithTimeoutCause(inner, startTime, errors.New("it did not start in time"))
	defer giveUp()
	if err := chromedp.Do(inner); err != nil {
		endAllocator()
		return nil, fmt.Errorf("start chromium: %w", errors.Join(err, context.Cause(slow)))
	}
	return &Browser{ctx: inner, stop: func() error {
		defer endAllocator()
		return chromedp.Cancel(inner)
	}}, nil
}

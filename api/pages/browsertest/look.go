package browsertest

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/chromedp/chromedp"
)

// axeVersion is that which .ci/setup keeps.
const axeVersion = "4.14.1"

// axePath is where .ci/setup keeps the accessibility checks: a cache that is no
// part of the project, because they come under a licence of their own.
func axePath() (string, error) {
	cache, err := os.UserCacheDir()
	return filepath.Join(cache, "delaybook", "axe-core-"+axeVersion, "axe.min.js"), err
}

// checkAxe answers the violations as text, one a line. The checks run in the
// page; the policy does not stop them, because they come from the test.
const checkAxe = `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then((r) =>
	JSON.stringify(r.violations.map((v) => v.id + " (" + v.impact + "): " + v.help + "; " +
		v.nodes.map((n) => n.target.join(" ") + " " + (n.any.concat(n.all, n.none).map((c) => c.message).join(", "))).join("; "))))`

// CheckAccess fails the test for every breach of the accessibility rules on the
// page: WCAG 2.2 A and AA, as far as a program can tell, and common good practice.
func (p *Phone) CheckAccess() {
	p.tb.Helper()
	path, err := axePath()
	if err != nil {
		p.tb.Fatal(err)
	}
	script, err := os.ReadFile(path)
	if err != nil {
		p.tb.Fatalf("the accessibility checks are missing (.ci/setup brings them): %v", err)
	}
	Run(p, chromedp.Evaluate[any](string(script)+"\n;undefined", chromedp.EvalIgnoreExceptions))
	text := Run(p, chromedp.Evaluate[string](checkAxe, chromedp.EvalAwaitPromise))
	var violations []string
	if err := json.Unmarshal([]byte(text), &violations); err != nil {
		p.tb.Fatal(err)
	}
	for _, v := range violations {
		p.tb.Errorf("%s: %s", p.Path(), v)
	}
}

// ShotsVariable names the environment variable with the folder for pictures of
// pages. Without it none are made.
const ShotsVariable = "SCREENSHOTS"

// Shoot makes a picture of the whole page, NAME.png.
func (p *Phone) Shoot(folder, name string) {
	p.tb.Helper()
	if folder == "" {
		return
	}
	const quality = 100 // PNG
	picture := Run(p, chromedp.FullScreenshot(quality))
	if err := os.MkdirAll(folder, 0o755); err != nil {
		p.tb.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, strings.ReplaceAll(name, "/", "-")+".png"), picture, 0o600); err != nil {
		p.tb.Fatal(err)
	}
}

// finger is the least size of what one taps, CSS pixels.
const finger = 44

// CheckTargets fails the test for every control that is too small for a finger:
// buttons, fields and links that stand alone, not links within a sentence. What
// is chosen by tapping its label counts as large as that.
func (p *Phone) CheckTargets() {
	p.tb.Helper()
	small := fmt.Sprintf(`[...document.querySelectorAll("button, .button, input:not([type=hidden]), select, summary, header a, .back a, .line, .rig")]
		.map((e) => e.matches("[type=radio], [type=checkbox]") ? e.closest("label") : e)
		.filter((e) => e.checkVisibility() && !e.closest(".skip") && e.getBoundingClientRect().height < %d)
		.map((e) => e.outerHTML.slice(0, 80)).join("\n")`, finger)
	if found := Run(p, chromedp.Evaluate[string](small)); found != "" {
		p.tb.Errorf("%s: too small for a finger:\n%s", p.Path(), found)
	}
}

// CheckWidth fails the test if the page is wider than the phone.
func (p *Phone) CheckWidth() {
	p.tb.Helper()
	const wide = `[...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1 &&
		!e.closest(".scrolls, .skip")).slice(0, 3).map((e) => e.outerHTML.slice(0, 80)).join("\n")`
	if found := Run(p, chromedp.Evaluate[string](wide)); found != "" {
		p.tb.Errorf("%s is wider than the phone:\n%s", p.Path(), found)
	}
}

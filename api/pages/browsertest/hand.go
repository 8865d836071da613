package browsertest

import (
	"strconv"
	"strings"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/chromedp"
)

// Named selects the link or button that a person knows by its words.
func Named(words string) string {
	quoted := `"` + words + `"`
	is := `contains(normalize-space(.), ` + quoted + `)`
	return `//main//a[` + is + `] | //main//button[` + is + `] | //header//a[` + is + `] | //main//summary[` + is + `]`
}

// Open opens a page of the site and returns its status.
func (p *Phone) Open(path string) int {
	p.tb.Helper()
	return p.follow(chromedp.Navigate(p.site.URL + path))
}

// Follow taps an element, given as [Named] or a CSS selector, and waits for the
// page that it leads to. It returns the status of that.
func (p *Phone) Follow(what string) int {
	p.tb.Helper()
	return p.follow(chromedp.Click(chromedp.Search(what), chromedp.NodeVisible))
}

func (p *Phone) follow(step chromedp.Action[chromedp.Void]) int {
	p.tb.Helper()
	ctx, cancel := p.patient()
	defer cancel()
	response, err := chromedp.RunResponse(ctx, step)
	p.must(ctx, err)
	if response == nil {
		return 0
	}
	return int(response.Status)
}

// Tap taps an element that leads to no other page.
func (p *Phone) Tap(what string) {
	p.tb.Helper()
	p.do(chromedp.Click(chromedp.Search(what), chromedp.NodeVisible))
}

// Type puts a text into a field, in place of what is there.
func (p *Phone) Type(field, text string) {
	p.tb.Helper()
	// What a script or a person put there is no attribute, which is all that chromedp clears.
	Run(p, chromedp.Evaluate[any]("document.querySelector("+strconv.Quote(field)+").value = ''"))
	p.do(chromedp.SendKeys(chromedp.CSS(field), text))
}

// Choose sets a field to a value, as a select or a hidden field has it.
func (p *Phone) Choose(field, value string) {
	p.tb.Helper()
	p.do(chromedp.SetValue(chromedp.CSS(field), value))
}

// Pick picks a file of this machine for a field.
func (p *Phone) Pick(field, path string) {
	p.tb.Helper()
	p.do(chromedp.SetUploadFiles(chromedp.CSS(field), []string{path}))
}

// Text returns what is written in an element.
func (p *Phone) Text(field string) string {
	p.tb.Helper()
	return Run(p, chromedp.Text(chromedp.CSS(field)))
}

// Page returns all that is written on the page, its spaces made single.
func (p *Phone) Page() string {
	p.tb.Helper()
	return strings.Join(strings.Fields(Run(p, chromedp.Evaluate[string](`document.body.innerText`))), " ")
}

// Want fails the test unless the page says the words.
func (p *Phone) Want(words ...string) {
	p.tb.Helper()
	shown := p.Page()
	for _, w := range words {
		if !strings.Contains(strings.ToLower(shown), strings.ToLower(w)) {
			p.tb.Errorf("the page does not say %q:\n%s", w, shown)
		}
	}
}

// Path returns where the phone is, without the host.
func (p *Phone) Path() string {
	p.tb.Helper()
	return strings.TrimPrefix(Run(p, chromedp.Location()), p.site.URL)
}

// SignIn signs in with a key, on the page that asks for one.
func (p *Phone) SignIn(key string) {
	p.tb.Helper()
	p.Open("/sign-in")
	p.Type("#key", key)
	p.Follow("form button")
}

// Run runs an action of chromedp and returns its value.
func Run[T any](p *Phone, a chromedp.Action[T]) T {
	p.tb.Helper()
	ctx, cancel := p.patient()
	defer cancel()
	value, err := chromedp.Run(ctx, a)
	p.must(ctx, err)
	return value
}

// call sends a command of the browser's protocol.
func call[P, R any](p *Phone, command cdp.Command[P, R], params P) R {
	p.tb.Helper()
	ctx, cancel := p.patient()
	defer cancel()
	value, err := chromedp.Call(ctx, command, params)
	p.must(ctx, err)
	return value
}

// Back goes to the page before.
func (p *Phone) Back() {
	p.tb.Helper()
	p.follow(chromedp.NavigateBack())
}

// Keys presses keys while a field has the focus.
func (p *Phone) Keys(field, keys string) {
	p.tb.Helper()
	p.do(chromedp.Focus(chromedp.CSS(field)), chromedp.KeyEvent(keys))
}

// FollowKeys presses keys in a field and waits for the page that they lead to.
func (p *Phone) FollowKeys(field, keys string) {
	p.tb.Helper()
	p.do(chromedp.Focus(chromedp.CSS(field)))
	p.follow(chromedp.KeyEvent(keys))
}

// Within waits until an expression is true on the page, while that changes by
// itself; a promise is waited for. It fails the test if it never is.
func (p *Phone) Within(expression string) {
	p.tb.Helper()
	for range int(patience / lookEvery) {
		ctx, cancel := p.patient()
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("(async () => !!("+expression+"))()", chromedp.EvalAwaitPromise))
		cancel()
		if err == nil && ok { // an error: the page is being left
			return
		}
		time.Sleep(lookEvery)
	}
	p.tb.Fatalf("never true: %s\nit shows:\n%s", expression, p.Page())
}

const lookEvery = 100 * time.Millisecond

// Soon waits until the page says the words.
func (p *Phone) Soon(words ...string) {
	p.tb.Helper()
	for _, w := range words {
		p.Within("document.body.innerText.replace(/\\s+/g, ' ').toLowerCase().includes(" + strconv.Quote(strings.ToLower(w)) + ")")
	}
}

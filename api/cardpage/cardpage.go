// Package cardpage is the page of the flash-and-beep card: cautions first, then
// the files, which are the better way, then the card played by the page itself.
//
// The page is made on the server and works without its script, except for
// playing. It needs no key and loads nothing from elsewhere.
package cardpage

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"net/http"
	"strings"

	"delaybook/domain/card"
	"delaybook/domain/timebase"
)

// Path is where the page is; its script and its style are below it.
const Path = "/card"

// policy allows what comes from this host and nothing written into the page.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

//go:embed card.html card.js card.css
var files embed.FS

var media = map[string]string{"card.js": "text/javascript; charset=utf-8", "card.css": "text/css; charset=utf-8"}

type asset struct {
	media, tag string
	body       []byte
}

type page struct {
	shape  *template.Template
	assets map[string]asset
}

// Handler serves the page at Path. It answers every method but GET and HEAD with
// 405 and what it does not have below Path with 404.
func Handler() (http.Handler, error) {
	shape, err := template.ParseFS(files, "card.html")
	if err != nil {
		return nil, fmt.Errorf("the page of the card: %w", err)
	}
	p := &page{shape: shape, assets: map[string]asset{}}
	for name, kind := range media {
		body, err := files.ReadFile(name)
		if err != nil {
			return nil, fmt.Errorf("the page of the card: %w", err)
		}
		p.assets[name] = asset{kind, tagOf(body), body}
	}
	return p, nil
}

func tagOf(body []byte) string {
	sum := sha256.Sum256(body)
	return `"` + hex.EncodeToString(sum[:12]) + `"`
}

// ServeHTTP implements http.Handler.
func (p *page) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		http.Error(w, "the card is only read: send GET", http.StatusMethodNotAllowed)
		return
	}
	if r.URL.Path == Path {
		p.show(w, r)
		return
	}
	name, _ := strings.CutPrefix(r.URL.Path, Path+"/")
	a, ok := p.assets[name]
	if !ok {
		http.NotFound(w, r)
		return
	}
	send(w, r, a)
}

func send(w http.ResponseWriter, r *http.Request, a asset) {
	h := w.Header()
	h.Set("Content-Type", a.media)
	h.Set("Content-Security-Policy", policy)
	h.Set("Cache-Control", "no-cache")
	h.Set("ETag", a.tag)
	if r.Header.Get("If-None-Match") == a.tag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	_, _ = w.Write(a.body) // the client left: nobody is there to tell
}

// A view is what the page shows.
type view struct {
	Cautions        []card.Caution
	Advice          []string
	Rates, Screens  []string
	Camera, Screen  string // as asked
	Choice          *choice
	Fault           string // why there is no choice although one was asked for
	Intervals       string
	FlashMS, BeepMS int
	ToneHz          int
	AttackMS        int
	DecayMS         int
	LevelDBFS       int
}

// A choice is the file to play.
type choice struct {
	Label, Why string
	Locked     bool
}

func (p *page) show(w http.ResponseWriter, r *http.Request) {
	v := view{
		Cautions: card.Cautions(), Advice: card.Advice(), Rates: labels(card.Rates()), Screens: labels(card.Screens()),
		Camera: r.URL.Query().Get("camera"), Screen: r.URL.Query().Get("screen"),
		Intervals: strings.Trim(fmt.Sprint(card.Intervals()), "[]"),
		FlashMS:   card.FlashMS, BeepMS: card.BeepMS, ToneHz: card.ToneHz, AttackMS: card.AttackMS, DecayMS: card.DecayMS, LevelDBFS: card.LevelDBFS,
	}
	v.choose()
	var out bytes.Buffer
	if err := p.shape.Execute(&out, v); err != nil {
		http.Error(w, "the page could not be made", http.StatusInternalServerError)
		return
	}
	send(w, r, asset{"text/html; charset=utf-8", tagOf(out.Bytes()), out.Bytes()})
}

// choose finds the file for the camera and screen asked for. What is not among
// the offers is read all the same, where it is a rate.
func (v *view) choose() {
	if v.Camera == "" && v.Screen == "" {
		return
	}
	camera, err := timebase.ParseRate(v.Camera)
	if err != nil {
		v.Fault = "The camera's rate can not be read: take one from the list."
		return
	}
	screen, err := timebase.ParseRate(v.Screen)
	if err != nil {
		v.Fault = "The screen's rate can not be read: take one from the list."
		return
	}
	x, ok := card.Choose(camera, screen)
	if !ok {
		v.Fault = "No file is shown evenly on this screen. Take another screen, or clap."
		return
	}
	v.Choice = &choice{Label: x.Phase.File.Label(), Why: x.Why, Locked: x.Phase.Use == card.Locked}
}

func labels(rates []timebase.Rate) []string {
	out := make([]string, len(rates))
	for i, rate := range rates {
		out[i] = rate.Label()
	}
	return out
}

// Package plot draws the picture of a measured recording: what light and sound
// did, where each event began in both, and how far apart, in words.
//
// On top is the whole recording on one axis of time, light above the line and
// sound below it. Below it each event has a row of its own, all aligned at the
// instant of the sound, so that rows that agree are a straight edge and one that
// does not sticks out. A bar joins the two onsets of an event; its length is the
// offset. Of two sound tracks the first is above the line, the second below.
//
// The drawing is an SVG of 360 units that scales to any width, brings its own
// colours for light, dark and print, tells nothing by colour alone, and says all
// of it in words for who does not see it. It runs no script and loads nothing.
package plot

import (
	"fmt"
	"math"
	"strings"

	"delaybook/domain/recording"
)

// Names say what the two curves are, for people.
type Names struct {
	Title string // of the drawing; empty: "Recording"
	Upper string // the picture, or the first track; empty: "light", or "first track"
	Lower string // the sound, or the second track; empty: "sound", or "second track"
}

// Sizes, in units of the drawing.
const (
	width    = 360.0
	margin   = 8.0
	words    = 118.0 // to the right of a row
	overview = 56.0  // height of the whole recording
	row      = 26.0
	heading  = 22.0
	mostRows = 60 // a long recording shows the first
)

// SVG draws a result with its evidence, which may be nil: then there are no
// curves. Neither is modified.
func SVG(r *recording.Result, e *recording.Evidence, n Names) []byte {
	if e == nil {
		e = &recording.Evidence{}
	}
	d := drawing{result: r, evidence: e, names: n.orUsual(r.Method), upper: e.Light}
	if r.Method == recording.ByTracks {
		d.upper = e.Second
	}
	d.draw()
	return d.document()
}

func (n Names) orUsual(m recording.Method) Names {
	upper, lower := "light", "sound"
	if m == recording.ByTracks {
		upper, lower = "first track", "second track"
	}
	for text, usual := range map[*string]string{&n.Title: "Recording", &n.Upper: upper, &n.Lower: lower} {
		if *text == "" {
			*text = usual
		}
	}
	return n
}

// A drawing grows downwards.
type drawing struct {
	result   *recording.Result
	evidence *recording.Evidence
	names    Names
	upper    *recording.Series
	body     strings.Builder
	y        float64
	rows     int
}

func (d *drawing) draw() {
	d.y = margin + 12
	d.text(margin, d.y, "title", d.names.Title)
	d.y += 8
	d.whole()
	if d.result.Refused != nil {
		d.y += 16
		d.paragraph(d.result.Refused.Text + " " + d.result.Refused.Try)
		return
	}
	s := d.scale()
	for i := range d.result.Segments {
		d.segment(&d.result.Segments[i], s)
	}
	if d.rows > 0 {
		d.axis(s)
	}
}

// whole draws the recording from its start to its end.
func (d *drawing) whole() {
	end := d.evidence.FromS + math.Max(length(d.upper), length(d.evidence.Sound))
	for i := range d.result.Segments {
		for _, e := range d.result.Segments[i].Events {
			end = math.Max(end, e.AtS+1)
		}
	}
	if !(end > d.evidence.FromS) {
		return
	}
	s := scale{from: d.evidence.FromS, to: end, left: margin, right: width - margin}
	middle := d.y + 12 + overview/2
	d.line("base", s.left, middle, s.right, middle)
	d.curve(d.upper, "upper", s, 0, middle, -overview/2)
	d.curve(d.evidence.Sound, "lower", s, 0, middle, overview/2)
	d.text(margin, d.y+8, "small", d.names.Upper+" above the line, "+d.names.Lower+" below")
	for i := range d.result.Segments {
		for _, e := range d.result.Segments[i].Events {
			d.line("tick", s.x(e.AtS), middle-3, s.x(e.AtS), middle+3)
		}
	}
	d.y = middle + overview/2 + 12
	d.text(margin, d.y, "small", seconds(s.from))
	d.text(width-margin, d.y, "small end", seconds(s.to))
	d.y += 6
}

// segment draws a heading and a row for each event.
func (d *drawing) segment(f *recording.Finding, s scale) {
	d.y += heading
	d.text(margin, d.y-6, "said", f.Said)
	for i := range f.Events {
		if d.rows == mostRows {
			d.y += 14
			d.text(margin, d.y, "small", "and more, which are not drawn")
			d.rows++
		}
		if d.rows > mostRows {
			return
		}
		d.event(&f.Events[i], s)
		d.rows++
	}
}

// event draws one row: time runs from the sound of the event on.
func (d *drawing) event(e *recording.Event, s scale) {
	middle := d.y + row/2
	class := "bar"
	say := offsetWords(e.OffsetMS, d.result.Method)
	if !e.Used {
		class, say = "bar out", "left out"
	}
	fmt.Fprintf(&d.body, `<g><title>%s</title>`, escape(fmt.Sprintf("at %s: %s", seconds(e.AtS), say)))
	d.line("base", s.left, middle, s.right, middle)
	d.curve(d.upper, "upper", s, e.AtS, middle, -row/2+2)
	d.curve(d.evidence.Sound, "lower", s, e.AtS, middle, row/2-2)
	from, to := s.x(0), s.x(e.OffsetMS/1000)
	d.line(class, from, middle, to, middle)
	d.line("onset", to, middle-row/2+2, to, middle)
	d.line("onset", from, middle, from, middle+row/2-2)
	d.text(width-words+6, middle-2, "words", say)
	d.text(width-words+6, middle+9, "small", "at "+seconds(e.AtS))
	d.body.WriteString("</g>\n")
	d.y += row
}

// scale finds the stretch round the sound of an event that holds all onsets.
func (d *drawing) scale() scale {
	low, high := 0.0, 0.0
	for i := range d.result.Segments {
		for _, e := range d.result.Segments[i].Events {
			if e.Used {
				low, high = math.Min(low, e.OffsetMS/1000), math.Max(high, e.OffsetMS/1000)
			}
		}
	}
	const before, after = 0.06, 0.12 // seconds: enough to see an event rise, and a beep of 60 ms end
	return scale{from: low - before, to: high + after, left: margin, right: width - words}
}

// axis says how long the rows are, in words.
func (d *drawing) axis(s scale) {
	d.y += 10
	d.line("base", s.left, d.y-6, s.right, d.y-6)
	step := niceStep((s.to - s.from) / 2)
	for n := math.Ceil(s.from / step); n*step <= s.to; n++ {
		x := s.x(n * step)
		d.line("tick", x, d.y-9, x, d.y-3)
		label := fmt.Sprintf("%.0f ms", math.Abs(n*step*1000))
		switch {
		case n == 0:
			label = "0"
		case n < 0:
			label += " before"
		}
		d.text(x, d.y+8, "small middle", label)
	}
	d.y += 22
	d.text(margin, d.y, "small", "after the "+d.names.Lower+" of each event")
}

// niceStep is the largest of 1, 2, 5 x 10^n ms that is no longer than at most.
func niceStep(most float64) float64 {
	step := math.Pow(10, math.Floor(math.Log10(most)))
	for _, f := range []float64{5, 2} {
		if f*step <= most {
			return f * step
		}
	}
	return step
}

package plot

import (
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"

	"delaybook/domain/recording"
)

// style is for screens in the light and in the dark, and for paper. The two
// curves differ in how they are drawn, not in colour alone.
const style = `
text{font:12px system-ui,sans-serif;fill:var(--ink)}
.title,.said{font-weight:600}.small{font-size:10.5px;fill:var(--soft)}.end{text-anchor:end}.middle{text-anchor:middle}
.base{stroke:var(--soft);stroke-width:.5}.tick{stroke:var(--ink);stroke-width:1}.onset{stroke:var(--ink);stroke-width:1.5}
.bar{stroke:var(--ink);stroke-width:3}.out{stroke-dasharray:2 3;stroke-width:1}
.upper{fill:var(--upper);stroke:none}.lower{fill:none;stroke:var(--lower);stroke-width:1}
.paper{fill:var(--paper)}
svg{--ink:#1a1a1a;--soft:#5a5a5a;--paper:#fff;--upper:#d9a441;--lower:#1f5f8b}
@media (prefers-color-scheme:dark){svg{--ink:#f0f0f0;--soft:#b4b4b4;--paper:#17191c;--upper:#a87a24;--lower:#7cc0ee}}
@media print{svg{--ink:#000;--soft:#444;--paper:#fff;--upper:#bbb;--lower:#000}}
`

// document puts the frame round what was drawn.
func (d *drawing) document() []byte {
	var b strings.Builder
	height := math.Ceil(d.y + margin)
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" role="img" aria-labelledby="title desc">`+"\n", unit(width), unit(height))
	fmt.Fprintf(&b, "<title id=\"title\">%s</title>\n<desc id=\"desc\">%s</desc>\n<style>%s</style>\n", escape(d.names.Title), escape(d.description()), style)
	fmt.Fprintf(&b, "<rect class=\"paper\" width=\"%s\" height=\"%s\"/>\n", unit(width), unit(height))
	b.WriteString(d.body.String())
	b.WriteString("</svg>\n")
	return []byte(b.String())
}

// description says what the drawing shows.
func (d *drawing) description() string {
	if why := d.result.Refused; why != nil {
		return why.Text + " " + why.Try
	}
	var parts []string
	for i := range d.result.Segments {
		f := &d.result.Segments[i]
		used := 0
		for _, e := range f.Events {
			if e.Used {
				used++
			}
		}
		parts = append(parts, fmt.Sprintf("From %s to %s: %s, by %d events that differ by %.1f ms among themselves.",
			seconds(f.FromS), seconds(f.ToS), f.Said, used, f.EventSDMS))
	}
	return strings.Join(parts, " ")
}

// inStepMS is what one decimal shows as 0.
const inStepMS = 0.05

// offsetWords says an offset without a sign.
func offsetWords(ms float64, m recording.Method) string {
	what := ""
	if m == recording.ByTracks {
		what = "second "
	}
	switch {
	case math.Abs(ms) < inStepMS:
		return "in sync"
	case ms > 0:
		return fmt.Sprintf("%searly %.1f ms", what, ms)
	}
	return fmt.Sprintf("%slate %.1f ms", what, -ms)
}

// seconds says an instant of the recording.
func seconds(s float64) string { return strconv.FormatFloat(s, 'f', 1, 64) + " s" }

// unit writes a length of the drawing.
func unit(x float64) string {
	return strconv.FormatFloat(math.Round(10*x)/10, 'f', -1, 64)
}

func escape(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(text)) // a Builder takes everything
	return b.String()
}

func (d *drawing) text(x, y float64, class, text string) {
	fmt.Fprintf(&d.body, "<text class=\"%s\" x=\"%s\" y=\"%s\">%s</text>\n", class, unit(x), unit(y), escape(text))
}

func (d *drawing) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&d.body, "<line class=\"%s\" x1=\"%s\" y1=\"%s\" x2=\"%s\" y2=\"%s\"/>\n", class, unit(x1), unit(y1), unit(x2), unit(y2))
}

// paragraph breaks a text into lines that fit the narrowest screen.
func (d *drawing) paragraph(text string) {
	const most = 52 // characters of 12 px on 344 px, with room for wide ones
	line := ""
	for word := range strings.FieldsSeq(text) {
		if len(line)+1+len(word) > most && line != "" {
			d.text(margin, d.y, "words", line)
			d.y, line = d.y+15, ""
		}
		line = strings.TrimSpace(line + " " + word)
	}
	d.text(margin, d.y, "words", line)
}

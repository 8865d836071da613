package ladder

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
)

// The measures of the picture, CSS pixels: it fills a phone of 360 less its margins.
const (
	width    = 328.0
	left     = 10.0 // where the event is
	right    = 12.0 // free behind the last arrival
	nameDrop = 16.0 // from the top of a row to the foot of its name
	barTop   = 22.0
	barTall  = 16.0
	gapDrop  = 54.0 // to the foot of the words about the gap
	lineDrop = 15.0 // to the foot of the next line of them
	rowTall  = 50.0 // a row without words about a gap
	axisTall = 26.0
	perLine  = 48 // characters of a line of words
)

// SVG draws the ladder. The identifiers in it begin with id, which must be
// different for every picture of a page and be made of letters, digits and
// hyphens. title says in one sentence what the picture shows.
func (l *Ladder) SVG(id, title string) (string, error) {
	if err := l.Check(); err != nil {
		return "", err
	}
	d := drawing{id: id, scale: (width - left - right) / math.Max(l.reachMS(), 1)}
	var rows strings.Builder
	tall := 4.0
	for i := range l.Rows {
		tall += d.row(&rows, &l.Rows[i], tall, l.LeftOut)
	}
	var out strings.Builder
	fmt.Fprintf(&out, `<svg class="ladder" viewBox="0 0 %s %s" role="img" aria-labelledby="%s-title">`, num(width), num(tall+axisTall), id)
	fmt.Fprintf(&out, `<title id="%s-title">%s</title>`, id, html.EscapeString(title))
	d.definitions(&out)
	d.axis(&out, tall, l.reachMS())
	out.WriteString(rows.String())
	fmt.Fprintf(&out, `<path class="ladder-event" d="M%s 0V%s"/>`, num(left), num(tall+4))
	out.WriteString(`</svg>`)
	return out.String(), nil
}

type drawing struct {
	id    string
	scale float64 // pixels per ms
}

func (d *drawing) x(ms float64) float64 { return left + ms*d.scale }

// definitions are the fading ends and the hatching.
func (d *drawing) definitions(out *strings.Builder) {
	out.WriteString("<defs>")
	for _, signal := range []string{"picture", "sound"} {
		fmt.Fprintf(out, `<linearGradient id="%[1]s-%[2]s"><stop class="ladder-%[2]s" offset="0"/>`+
			`<stop class="ladder-%[2]s" offset="1" stop-opacity="0"/></linearGradient>`, d.id, signal)
	}
	fmt.Fprintf(out, `<pattern id="%s-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">`+
		`<path class="ladder-hatch" d="M0 0V6"/></pattern></defs>`, d.id)
}

// row draws one row whose top is at y, and returns how tall it is.
func (d *drawing) row(out *strings.Builder, r *Row, y float64, leftOut bool) float64 {
	fmt.Fprintf(out, `<text class="ladder-name" x="%s" y="%s">%s</text>`, num(left+4), num(y+nameDrop), html.EscapeString(r.Name))
	if r.Unknown {
		fmt.Fprintf(out, `<path class="ladder-unknown" d="M%s %sH%s"/>`, num(left), num(y+barTop+barTall/2), num(width-right))
		return rowTall
	}
	signal := "picture"
	if r.Sound {
		signal = "sound"
	}
	// From the last to the first, so that what is not sure of a length fades over the next.
	end := r.EndMS()
	at := end
	for i := len(r.Lengths) - 1; i >= 0; i-- {
		at -= r.Lengths[i].MS
		d.length(out, &r.Lengths[i], signal, at, y+barTop)
	}
	if leftOut {
		d.tear(out, y+barTop)
	}
	if r.Gap == nil {
		return rowTall
	}
	return d.gap(out, r.Gap, end, y)
}

func (d *drawing) length(out *strings.Builder, l *Length, signal string, at, y float64) {
	end := at + l.MS
	if l.Kind == Dialled {
		if l.MS > 0 {
			fmt.Fprintf(out, `<rect class="ladder-dial ladder-edge-%s" x="%s" y="%s" width="%s" height="%s" fill="url(#%s-hatch)"/>`,
				signal, num(d.x(at)), num(y), num(l.MS*d.scale), num(barTall), d.id)
		}
		return
	}
	sure := math.Max(at, end-l.HalfMS)
	if sure > at {
		fmt.Fprintf(out, `<rect class="ladder-%s ladder-%s" x="%s" y="%s" width="%s" height="%s"/>`,
			signal, l.Kind, num(d.x(at)), num(y), num((sure-at)*d.scale), num(barTall))
	}
	if fade := end + l.HalfMS - sure; fade > 0 {
		fmt.Fprintf(out, `<rect x="%s" y="%s" width="%s" height="%s" fill="url(#%s-%s)"/>`,
			num(d.x(sure)), num(y), num(fade*d.scale), num(barTall), d.id, signal)
	}
	if l.MS > 0 {
		fmt.Fprintf(out, `<path class="ladder-joint" d="M%s %sv%s"/>`, num(d.x(end)), num(y), num(barTall))
	}
}

// tear marks that a row does not begin at the event: something that all share is left out.
func (d *drawing) tear(out *strings.Builder, y float64) {
	fmt.Fprintf(out, `<path class="ladder-tear" d="M%s %sl4 4 -4 4 4 4 -4 4"/>`, num(left+1), num(y))
}

// gap draws what is left between the end of a row and another, and says it below.
func (d *drawing) gap(out *strings.Builder, g *Gap, end, y float64) float64 {
	from, to := d.x(end), d.x(g.ToMS)
	middle := y + barTop + barTall/2
	fmt.Fprintf(out, `<path class="ladder-gap" d="M%[1]s %[2]sH%[3]s"/><path class="ladder-gap-end" d="M%[3]s %[4]sv%[5]s"/>`,
		num(from), num(middle), num(to), num(y+barTop-3), num(barTall+6))
	tall := gapDrop
	for i, line := range lines(g.Text, perLine) {
		if i > 0 {
			tall += lineDrop
		}
		fmt.Fprintf(out, `<text class="ladder-words" x="%s" y="%s">%s</text>`, num(left+4), num(y+tall), html.EscapeString(line))
	}
	return tall + lineDrop
}

// axis draws round instants below the rows, at most six.
func (d *drawing) axis(out *strings.Builder, y, reach float64) {
	step := 1.0
	for _, s := range []float64{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000} {
		if step = s; reach/s <= 5 {
			break
		}
	}
	for ms := step; ms <= reach; ms += step {
		fmt.Fprintf(out, `<path class="ladder-line" d="M%s 0V%s"/>`, num(d.x(ms)), num(y+4))
		unit := ""
		if ms+step > reach {
			unit = " ms"
		}
		fmt.Fprintf(out, `<text class="ladder-tick" x="%s" y="%s" text-anchor="middle">%s%s</text>`, num(d.x(ms)), num(y+18), num(ms), unit)
	}
}

// lines breaks a text between words.
func lines(text string, most int) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && len(line)+1+len(word) > most {
			out, line = append(out, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(out, line)
}

// num writes a number with at most one decimal: tenths of a pixel are enough.
func num(x float64) string { return strconv.FormatFloat(math.Round(10*x)/10, 'f', -1, 64) }

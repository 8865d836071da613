// Package ladder draws when picture and sound of an event arrive: the event at
// the left, one row per chain, each stage a length true to ms. What is not sure
// of a length fades at its end, a delay that somebody dialled in is hatched, and
// what is left between two ends is the gap, said in words.
//
// The picture is SVG without style of its own: the classes that it uses are
// those of the page's style sheet, so that light, dark and paper each show it
// with their colours. Whoever can not see it reads the same from the rows, which
// pages show as a table.
package ladder

import (
	"fmt"
	"math"
)

// A Kind says what a length is.
type Kind string

// The kinds.
const (
	Stage    Kind = "stage"    // what one stage takes
	Together Kind = "together" // what stages take that nobody measured apart
	Air      Kind = "air"      // the way through the air
	Dialled  Kind = "dialled"  // a delay that somebody set
)

// A Length is a part of a row.
type Length struct {
	Name   string
	Kind   Kind
	MS     float64 // how long it takes, 0 or more
	HalfMS float64 // half width of its 95 % interval, 0 or more: what fades
}

// A Gap is what is left between the end of a row and another.
type Gap struct {
	ToMS float64 // where the other row ends
	Text string  // what it means, in words
}

// A Row is the way of one chain.
type Row struct {
	Name    string
	Sound   bool // else picture
	Lengths []Length
	Unknown bool // it is not known against the others, and has no lengths
	Gap     *Gap // nil: none to show
}

// EndMS is when the row arrives, ms after the event, without what is left out.
func (r *Row) EndMS() float64 {
	end := 0.0
	for _, l := range r.Lengths {
		end += l.MS
	}
	return end
}

// A Ladder is a picture of arrivals.
type Ladder struct {
	Rows []Row
	// LeftOut: a time that every row shares is not known and not drawn, so that
	// only differences between rows are true to ms.
	LeftOut bool
}

// Check returns an error that names the first length that can not be drawn.
func (l *Ladder) Check() error {
	for _, r := range l.Rows {
		for _, x := range r.Lengths {
			if !(x.MS >= 0 && x.HalfMS >= 0) || math.IsInf(x.MS, 0) || math.IsInf(x.HalfMS, 0) {
				return fmt.Errorf("row %s: length %s of %v ms, give or take %v: send finite lengths of 0 or more", r.Name, x.Name, x.MS, x.HalfMS)
			}
		}
		if r.Gap != nil && (math.IsNaN(r.Gap.ToMS) || math.IsInf(r.Gap.ToMS, 0)) {
			return fmt.Errorf("row %s: a gap to %v ms: send a finite end", r.Name, r.Gap.ToMS)
		}
	}
	return nil
}

// reachMS is the last instant that the picture shows.
func (l *Ladder) reachMS() float64 {
	reach := 0.0
	for i := range l.Rows {
		r := &l.Rows[i]
		end := r.EndMS()
		if n := len(r.Lengths); n > 0 {
			end += r.Lengths[n-1].HalfMS
		}
		if r.Gap != nil {
			end = max(end, r.Gap.ToMS)
		}
		reach = max(reach, end)
	}
	return reach
}

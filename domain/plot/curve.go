package plot

import (
	"fmt"
	"math"

	"delaybook/domain/recording"
)

// A scale maps seconds to the drawing.
type scale struct{ from, to, left, right float64 }

func (s scale) x(t float64) float64 {
	return s.left + (t-s.from)/(s.to-s.from)*(s.right-s.left)
}

// length is how long a series is, seconds.
func length(s *recording.Series) float64 {
	if s == nil || !(s.StepS > 0) {
		return 0
	}
	return s.StepS * float64(len(s.Values))
}

// mostPoints is of one curve: two a unit of width at the narrowest.
const mostPoints = 240

// curve draws the part of a series round zero, an instant of the recording, that
// the scale shows: as an area from the line at middle to middle + height where
// the value is full. Where there are more values than points the largest stands.
func (d *drawing) curve(series *recording.Series, class string, s scale, zero, middle, height float64) {
	if length(series) == 0 {
		return
	}
	from := d.index(series, zero+s.from)
	to := min(d.index(series, zero+s.to)+1, len(series.Values))
	from = max(from, 0)
	if to-from < 2 {
		return
	}
	stride := (to - from + mostPoints - 1) / mostPoints
	at := func(i int) float64 {
		t := d.evidence.FromS + float64(i)*series.StepS - zero
		return math.Min(math.Max(s.x(t), s.left), s.right)
	}
	fmt.Fprintf(&d.body, `<path class="%s" d="M%s %s`, class, unit(at(from)), unit(middle))
	last := at(from)
	for i := from; i < to; i += stride {
		top := byte(0)
		for _, v := range series.Values[i:min(i+stride, to)] {
			top = max(top, v)
		}
		last = at(i)
		fmt.Fprintf(&d.body, "L%s %s", unit(last), unit(middle+height*float64(top)/255))
	}
	fmt.Fprintf(&d.body, "L%s %sZ\"/>\n", unit(last), unit(middle))
}

// index is which value of a series stands for an instant of the recording.
func (d *drawing) index(s *recording.Series, t float64) int {
	return int(math.Floor(math.Min((t-d.evidence.FromS)/s.StepS, float64(len(s.Values)))))
}

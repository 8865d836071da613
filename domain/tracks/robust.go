package tracks

import (
	"math"
	"slices"
)

// median returns the middle value, 0 of none. It sorts x.
func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	slices.Sort(x)
	n := len(x)
	return (x[(n-1)/2] + x[n/2]) / 2
}

// A line is a delay that may grow: at + slope*(t-midS), all in seconds.
type line struct{ at, slope, midS float64 }

func (l line) delay(t float64) float64 { return l.at + l.slope*(t-l.midS) }

// A point is the delay found in the window round an instant.
type point struct{ t, delay float64 }

// theilSen fits a line by medians: of the slopes of all pairs of points, then of
// what that slope leaves (Sen, J. Amer. Statist. Assoc. 63 (1968) 1379). Of one
// instant, or none, the slope is 0.
func theilSen(points []point, midS float64) line {
	var slopes []float64
	for i, p := range points {
		for _, q := range points[:i] {
			if p.t != q.t {
				slopes = append(slopes, (p.delay-q.delay)/(p.t-q.t))
			}
		}
	}
	l := line{slope: median(slopes), midS: midS}
	rest := make([]float64, len(points))
	for i, p := range points {
		rest[i] = p.delay - l.slope*(p.t-midS)
	}
	l.at = median(rest)
	return l
}

// consensus returns the line of at most steepest slope that most points lie
// within tolerance of, and which points those are. Where most of these lie
// ten times nearer to one line, that is the line: the others follow a reflection.
func consensus(points []point, midS, steepest, tolerance float64) (line, []point) {
	near := agreeing(points, midS, steepest, tolerance)
	core := agreeing(near, midS, steepest, tolerance/10)
	if len(core) >= leastAgree && 2*len(core) > len(near) {
		return theilSen(core, midS), near
	}
	return theilSen(near, midS), near
}

// agreeing tries each line through two points: there are few.
func agreeing(points []point, midS, steepest, tolerance float64) []point {
	var best []point
	for i, p := range points {
		for _, q := range points[i+1:] {
			slope := (q.delay - p.delay) / (q.t - p.t)
			if p.t == q.t || math.Abs(slope) > steepest {
				continue
			}
			l := line{p.delay - slope*(p.t-midS), slope, midS}
			if near := within(points, l, tolerance); len(near) > len(best) {
				best = near
			}
		}
	}
	return best
}

func within(points []point, l line, tolerance float64) []point {
	return slices.DeleteFunc(slices.Clone(points), func(p point) bool {
		return math.Abs(p.delay-l.delay(p.t)) > tolerance
	})
}

package clip

import (
	"math"
	"slices"
	"strconv"

	"delaybook/domain/timebase"
)

// A frameClock is what time stamps say about the frame rate.
type frameClock struct {
	periodS float64 // nominal: how long a frame lasts where none is missing
	varies  bool    // frames are missing or stamped unevenly
}

// clockOf needs two increasing stamps. The period is the mean of the steps near
// the median, so that stamps in whole milliseconds average out.
func clockOf(pts []float64) frameClock {
	steps := make([]float64, len(pts)-1)
	for i := range steps {
		steps[i] = pts[i+1] - pts[i]
	}
	middle := median(steps)
	sum, n := 0.0, 0
	for _, s := range steps {
		if math.Abs(s-middle) < 0.3*middle {
			sum += s
			n++
		}
	}
	c := frameClock{periodS: sum / float64(n)}
	odd := 0
	for _, s := range steps {
		if math.Abs(s-c.periodS) > max(0.06*c.periodS, 1.2e-3) { // containers that stamp in milliseconds are off by 1 ms
			odd++
		}
	}
	c.varies = float64(odd) > 0.02*float64(len(steps))
	return c
}

// FramePeriod says how long a frame lasts in a recording, by the time stamps of
// some that follow each other, and which customary rate that is. ok is false
// where they are stamped unevenly, as phones do, or the rate is none of those;
// periodS is 0 for fewer than two stamps.
func FramePeriod(pts []float64) (periodS float64, rate timebase.Rate, ok bool) {
	if len(pts) < 2 {
		return 0, rate, false
	}
	clock := clockOf(pts)
	rate, ok = clock.customary()
	return clock.periodS, rate, ok && !clock.varies
}

// customary are the rates a recording is likely to have.
var customary = [][2]int64{
	{24000, 1001},
	{24, 1},
	{25, 1},
	{30000, 1001},
	{30, 1},
	{48000, 1001},
	{48, 1},
	{50, 1},
	{60000, 1001},
	{60, 1},
	{100, 1},
	{120000, 1001},
	{120, 1},
	{240, 1},
}

// rate names the frame rate: the exact fraction if the period is within 200 ppm
// of a customary one (neighbours are 1000 ppm apart), else a decimal.
func (c frameClock) rate() string {
	if exact, ok := c.customary(); ok {
		return exact.String()
	}
	return strconv.FormatFloat(1/c.periodS, 'f', 3, 64)
}

func (c frameClock) customary() (timebase.Rate, bool) {
	for _, r := range customary {
		exact, err := timebase.NewRate(r[0], r[1])
		if err == nil && math.Abs(c.periodS*exact.Float()-1) < 2e-4 {
			return exact, true
		}
	}
	return timebase.Rate{}, false
}

// median returns the middle of xs, 0 of none. It does not modify xs.
func median(xs []float64) float64 { return quantile(xs, 0.5) }

// quantile interpolates between order statistics; 0 of no values. It does not
// modify xs.
func quantile(xs []float64, p float64) float64 {
	if len(xs) == 0 {
		return 0
	}
	s := slices.Clone(xs)
	slices.Sort(s)
	at := p * float64(len(s)-1)
	i := min(int(at), len(s)-1)
	j := min(i+1, len(s)-1)
	return s[i] + (at-float64(i))*(s[j]-s[i])
}

// robustSD is the standard deviation of normal values with the same median
// absolute deviation, which is 0.6745 of it.
func robustSD(xs []float64) float64 {
	m := median(xs)
	dev := make([]float64, len(xs))
	for i, x := range xs {
		dev[i] = math.Abs(x - m)
	}
	return median(dev) / 0.6745
}

// mean returns the mean of xs, 0 of none.
func mean(xs []float64) float64 {
	if len(xs) == 0 {
		return 0
	}
	sum := 0.0
	for _, x := range xs {
		sum += x
	}
	return sum / float64(len(xs))
}

// sdOf returns the sample standard deviation, 0 of fewer than two values.
func sdOf(xs []float64) float64 {
	if len(xs) < 2 {
		return 0
	}
	m, sum := mean(xs), 0.0
	for _, x := range xs {
		sum += (x - m) * (x - m)
	}
	return math.Sqrt(sum / float64(len(xs)-1))
}

package clip

import (
	"math"
	"slices"

	"delaybook/domain/card"
)

// cardCycle are the intervals of the card from one event to the next, seconds.
var cardCycle = secondsOf(card.Intervals())

func secondsOf(ms []int) []float64 {
	out := make([]float64, len(ms))
	for i, v := range ms {
		out[i] = float64(v) / 1000
	}
	return out
}

// cardClock returns how fast the card ran against the recording, in parts per
// million, and its standard uncertainty, by finding where in the cycle the beeps
// began. It fails where the beeps are not those of the cycle.
func cardClock(beeps []beep, cycle []float64) (ppm, u float64, ok bool) {
	if len(beeps) < 5 || len(cycle) == 0 {
		return 0, 0, false
	}
	var bestX, bestY []float64
	for start := range cycle {
		for _, anchor := range beeps[:3] {
			x, y := follow(beeps, anchor.atS, start, cycle)
			if len(x) > len(bestX) {
				bestX, bestY = x, y
			}
		}
	}
	if len(bestX) < 5 || 10*len(bestX) < 7*len(beeps) {
		return 0, 0, false
	}
	var slopes []float64
	for i := range bestX {
		for j := range i {
			if d := bestX[i] - bestX[j]; d > 3 {
				slopes = append(slopes, (bestY[i]-bestY[j])/d)
			}
		}
	}
	if len(slopes) == 0 {
		return 0, 0, false
	}
	slope := median(slopes)
	var rest []float64
	for i := range bestX {
		rest = append(rest, bestY[i]-slope*bestX[i])
	}
	sd := max(robustSD(rest), 0.02e-3)
	var xx float64
	middle := mean(bestX)
	for _, x := range bestX {
		xx += (x - middle) * (x - middle)
	}
	// Beeps that come late by slope seconds a second are those of a slow card.
	return -slope * 1e6, 1.1 * sd / math.Sqrt(xx) * 1e6, true
}

// follow lists card time and lateness of the beeps that fit the cycle if one
// beep, at anchor, is number start. A file card has moved its events to frames,
// by up to 21 ms each.
func follow(beeps []beep, anchor float64, start int, cycle []float64) (x, y []float64) {
	at, t := start, anchor
	index := slices.IndexFunc(beeps, func(b beep) bool { return b.atS == anchor })
	for _, b := range beeps[index:] {
		for t+cycle[at%len(cycle)]/2 < b.atS {
			t += cycle[at%len(cycle)]
			at++
		}
		if late := b.atS - t; math.Abs(late) < 45e-3+1.2e-3*(b.atS-anchor) {
			x = append(x, t-anchor)
			y = append(y, late)
		}
	}
	return x, y
}

package plan

import (
	"math"

	"delaybook/domain/law"
)

const (
	// topLevel is where a better chance stops counting.
	topLevel = 999
	// levelSlack is added to 1000 chance before rounding down: a chance that is 0.95 but for the
	// rounding of its computation is 0.95.
	levelSlack = 1e-7
	// msPerHalfTick turns distances from the middle of a window into ms.
	msPerHalfTick = 1.0 / (2 * TicksPerMS)
)

// A levelClass is what the level of a pair depends on besides its distance from the middle.
type levelClass struct {
	law   law.Law
	width int64 // early + late, ticks; also the half-width in half ticks
}

// A levelTable answers level at a distance and distance of a level, remembering the latter.
//
// Distances are |2 after - (early - late)|: from the middle of the window, in half ticks, so that
// they are integers whatever the bounds are. The law is symmetric and unimodal, so the level never
// rises with the distance and {distance: level >= L} is an interval from 0.
type levelTable struct {
	classes []levelClass
	index   map[levelClass]int
	radii   []map[int]int64
}

func newLevelTable() *levelTable { return &levelTable{index: map[levelClass]int{}} }

func (t *levelTable) class(c levelClass) int {
	if i, ok := t.index[c]; ok {
		return i
	}
	t.index[c] = len(t.classes)
	t.classes = append(t.classes, c)
	t.radii = append(t.radii, map[int]int64{})
	return len(t.classes) - 1
}

// at is the level at a distance in half ticks (either sign).
func (t *levelTable) at(class int, distance int64) int {
	return t.classes[class].at(distance)
}

func (c levelClass) at(distance int64) int {
	if distance < 0 {
		distance = -distance
	}
	if level := int(math.Floor(c.thousandths(float64(distance)))); level >= 1 {
		return level
	}
	if distance <= c.width {
		return 0
	}
	return -int(ceilDiv(distance-c.width, 2*TicksPerMS))
}

// thousandths is 1000 chance plus the slack, at a distance in half ticks.
func (c levelClass) thousandths(distance float64) float64 {
	half := float64(c.width) * msPerHalfTick
	return 1000*c.law.Chance(distance*msPerHalfTick, law.Window{Early: half, Late: half}) + levelSlack
}

// radius is the largest distance (half ticks) whose level is at least want, or -1.
func (t *levelTable) radius(class, want int) int64 {
	if r, ok := t.radii[class][want]; ok {
		return r
	}
	r := t.classes[class].radius(want)
	t.radii[class][want] = r
	return r
}

func (c levelClass) radius(want int) int64 {
	if want <= 0 {
		return max(c.radius(1), c.width+2*TicksPerMS*int64(-want))
	}
	if c.thousandths(0) < float64(want) {
		return -1
	}
	lo, hi := int64(0), c.width+2*TicksPerMS
	for c.thousandths(float64(hi)) >= float64(want) {
		lo, hi = hi, 2*hi
	}
	lo, hi = c.bracket(want, lo, hi)
	for hi-lo > 1 { // the exact test on whole half ticks
		mid := lo + (hi-lo)/2
		if c.thousandths(float64(mid)) >= float64(want) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// bracket narrows lo (level reached) and hi (not reached) around the crossing by false position,
// weighting the end that stays (the Illinois rule), down to a few half ticks.
func (c levelClass) bracket(want int, lo, hi int64) (int64, int64) {
	f := func(h int64) float64 { return c.thousandths(float64(h)) - float64(want) }
	flo, fhi, stayed := f(lo), f(hi), 0
	for range 60 {
		if hi-lo <= 4 || flo == fhi {
			break
		}
		x := lo + int64(float64(hi-lo)*flo/(flo-fhi))
		x = min(max(x, lo+1), hi-1)
		if fx := f(x); fx >= 0 {
			lo, flo = x, fx
			if stayed > 0 {
				fhi /= 2
			}
			stayed = max(stayed, 0) + 1
		} else {
			hi, fhi = x, fx
			if stayed < 0 {
				flo /= 2
			}
			stayed = min(stayed, 0) - 1
		}
	}
	return lo, hi
}

package card

import "slices"

// Version is the version of this card. A file made for another is made anew.
const Version = 1

// What one event is like.
const (
	FlashMS   = 160  // how long the area is white
	ToneHz    = 2000 // of the beep
	BeepMS    = 60   // from its start to its end
	AttackMS  = 1    // linear, from nothing to full
	DecayMS   = 4    // linear, at the end of the beep
	LevelDBFS = -12  // peak of the tone against the largest sample
	AreaShare = 0.35 // of the card's area: the centred rectangle that flashes
)

// cycle has the intervals from the start of one event to that of the next, in ms.
var cycle = [...]int{816, 1188, 923, 994, 1309, 1239, 1143, 1372, 1061, 761, 864, 701}

// EventsPerCycle is the number of events before the sequence repeats.
const EventsPerCycle = len(cycle)

// CycleMS is how long the sequence takes before it repeats, in ms.
const CycleMS = 12371

// Intervals returns the intervals of a cycle in ms, from the start of one event
// to the start of the next.
func Intervals() []int { return slices.Clone(cycle[:]) }

// StartMS returns the start of event k in ms after the start of event 0. k is
// not negative.
func StartMS(k int) int {
	at := k / EventsPerCycle * CycleMS
	for _, interval := range cycle[:k%EventsPerCycle] {
		at += interval
	}
	return at
}

// Starts returns the starts of the first n events in ms after that of event 0.
func Starts(n int) []int {
	starts := make([]int, n)
	for k := range starts {
		starts[k] = StartMS(k)
	}
	return starts
}

// MostWithin returns the largest number of starts that fall into any window of
// the given length, both ends included. starts are in order, in the window's unit.
func MostWithin(starts []int, window int) int {
	most, first := 0, 0
	for last, at := range starts {
		for starts[first] < at-window {
			first++
		}
		most = max(most, last-first+1)
	}
	return most
}

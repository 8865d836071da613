package card

import (
	"slices"

	"delaybook/domain/timebase"
)

// A Phase says how well the flashes of a file sample the frame of a camera whose
// clock runs as exactly as the screen's. It is the worst case: clocks of their
// own drift apart and add phases.
type Phase struct {
	File, Camera timebase.Rate
	CycleGap     float64 // largest part of the camera's frame in which no flash starts, 0 to 1; the worst run of one cycle (12 s)
	FilmGap      float64 // the same of two cycles (25 s)
	FileGap      float64 // the same of the whole file (a minute)
	Phases       int     // how many different phases the file has
	Use          Use
}

// A Use says what a file is good for with a camera.
type Use string

// The uses.
const (
	Sweeps Use = "sweeps" // two cycles leave no gap of more than a third of a frame: film half a minute
	Slow   Use = "slow"   // the whole file leaves no such gap: film the minute
	Locked Use = "locked" // flashes keep to fewer than 5 phases or leave a large gap: the reading is good to a part of a frame only
)

// widestGap is what a good film may leave of a frame without a flash.
const widestGap = 1.0 / 3

// fewPhases is how many phases a film needs not to be called frame-locked.
const fewPhases = 5

// PhaseOf returns how the flashes of a file fall into the frames of a camera.
// camera is a valid rate.
func PhaseOf(f *File, camera timebase.Rate) Phase {
	// The start of frame n of the file is n*den/num s, which is
	// n*den*camera.num/(num*camera.den) frames of the camera: whole numbers of 1/turn.
	turn := f.Rate.Num() * camera.Den()
	marks := make([]int64, len(f.Events))
	for k, e := range f.Events {
		marks[k] = e.Frame * f.Rate.Den() % turn * camera.Num() % turn
	}
	p := Phase{
		File: f.Rate, Camera: camera,
		CycleGap: worstGap(marks, EventsPerCycle, turn), FilmGap: worstGap(marks, 2*EventsPerCycle, turn), FileGap: gap(marks, turn),
	}
	slices.Sort(marks)
	p.Phases = len(slices.Compact(marks))
	switch {
	case p.Phases < fewPhases:
		p.Use = Locked
	case p.FilmGap <= widestGap:
		p.Use = Sweeps
	case p.FileGap <= widestGap:
		p.Use = Slow
	default:
		p.Use = Locked
	}
	return p
}

// worstGap returns the largest gap that any n marks in a row leave.
func worstGap(marks []int64, n int, turn int64) float64 {
	worst := 0.0
	for k := range len(marks) - n + 1 {
		worst = max(worst, gap(marks[k:k+n], turn))
	}
	return worst
}

// gap returns the largest part of a turn between neighbours on a circle.
func gap(marks []int64, turn int64) float64 {
	sorted := slices.Sorted(slices.Values(marks))
	largest := sorted[0] + turn - sorted[len(sorted)-1]
	for i := 1; i < len(sorted); i++ {
		largest = max(largest, sorted[i]-sorted[i-1])
	}
	return float64(largest) / float64(turn)
}

// PageGap returns the largest part of a camera's frame in which none of the
// first n events starts, where they are not laid on the frames of a file.
func PageGap(n int, camera timebase.Rate) float64 {
	turn := 1000 * camera.Den()
	marks := make([]int64, n)
	for k := range marks {
		marks[k] = int64(StartMS(k)) * camera.Num() % turn
	}
	return gap(marks, turn)
}

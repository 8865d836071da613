package onset

import "math"

// Where something is seen on a frame, in half frames from the frame's start. A
// frame stands for the time from its stamp to the next.
const (
	OnFrame   = 1 // on the frame: in its middle, give or take half of it
	AfterIt   = 2 // between the frame and the next
	halvesPer = 2
)

// Halves returns where a sound falls, in half frames from the start of a frame
// with time stamp frameS that lasts periodS: an odd number is on a frame, 1 being
// this one, and an even one between two, 0 being this and the one before. Both
// instants are seconds on the axis of the recording.
func Halves(soundS, frameS, periodS float64) int {
	return int(math.Round(halvesPer * (soundS - frameS) / periodS))
}

// Count returns how many frames the picture comes after the sound, in halves,
// as a person counts them: seen is OnFrame or AfterIt. Negative: it comes before.
func Count(seen int, soundS, frameS, periodS float64) float64 {
	return float64(seen-Halves(soundS, frameS, periodS)) / halvesPer
}

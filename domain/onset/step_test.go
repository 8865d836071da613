package onset_test

import (
	"testing"

	"delaybook/domain/onset"
)

// The frames of 25 a second, whose stamps and periods are whole milliseconds, so
// that each row can be counted on paper.
func TestFramesAreCounted(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		soundS, frameS float64
		seen           int
		halves         int
		frames         float64
	}{
		{1.020, 1.000, onset.OnFrame, 1, 0},   // in the middle of the frame
		{1.011, 1.000, onset.OnFrame, 1, 0},   // in it all the same
		{1.039, 1.000, onset.OnFrame, 2, -.5}, // at its end: between it and the next
		{1.039, 1.000, onset.AfterIt, 2, 0},
		{1.001, 1.000, onset.OnFrame, 0, .5},
		{1.020, 1.200, onset.OnFrame, -9, 5},  // five frames before: sound early
		{1.220, 1.000, onset.OnFrame, 11, -5}, // five frames after: sound late
		{1.220, 1.000, onset.AfterIt, 11, -4.5},
	} {
		if got := onset.Halves(c.soundS, c.frameS, 0.040); got != c.halves {
			t.Errorf("sound at %v from the frame at %v: %d halves, want %d", c.soundS, c.frameS, got, c.halves)
		}
		if got := onset.Count(c.seen, c.soundS, c.frameS, 0.040); got != c.frames {
			t.Errorf("sound at %v, seen at %v (%d): %v frames, want %v", c.soundS, c.frameS, c.seen, got, c.frames)
		}
	}
}

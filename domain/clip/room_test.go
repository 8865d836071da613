package clip_test

import (
	"fmt"
	"math"
	"testing"

	"delaybook/domain/clip"
	"delaybook/domain/clip/camera"
)

// In a room that is louder than the direct sound, and for some while works
// against it, a burst is loudest long after its onset, even after its end: the
// onset is still where the direct sound begins.
func TestRoomsLouderThanTheDirectSound(t *testing.T) {
	t.Parallel()
	for _, room := range []struct{ rt60, drr, worst float64 }{{0.4, -3.5, 0.7}, {1, -6, 1}, {2, -4.5, 1}} {
		for seed := range uint64(5) {
			t.Run(fmt.Sprintf("rt60 %g drr %g seed %d", room.rt60, room.drr, seed), func(t *testing.T) {
				t.Parallel()
				s := camera.New(500+seed, 25, 120)
				s.LengthS, s.Digital, s.Area, s.RT60, s.DRR = 10, true, 0.35, room.rt60, room.drr
				// The film is of a file, so 120 ms are 3 frames exactly.
				got := clip.Analyse(s.Film(), clip.Options{})
				if got.Refused != nil {
					t.Fatalf("refused: %v", got.Refused)
				}
				if math.Abs(got.OffsetMS-120) > room.worst {
					t.Errorf("%.2f ms, u %.2f, flags %v, want 120 to %v", got.OffsetMS, got.UMS, got.Flags, room.worst)
				}
			})
		}
	}
}

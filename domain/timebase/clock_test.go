package timebase

import "testing"

// TestEveryFrameOfADay walks all labels of a day as SMPTE ST 12-1 states the rule,
// leaving out the first of each minute not divisible by ten, and counts frames.
// It is inside the package because 18 million texts would take half a minute.
func TestEveryFrameOfADay(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		num    int64
		perDay int64 // 24 * 107892 at 29.97, and its multiples
	}{{30000, 2_589_408}, {60000, 5_178_816}, {120000, 10_357_632}} {
		clk, err := clockOf(Rate{c.num, 1001}, DropFrame)
		if err != nil {
			t.Fatal(err)
		}
		frame, nominal := int64(0), c.num/1000
		for label := range 86400 * nominal {
			second, f := label/nominal, label%nominal
			if f < nominal/15 && second%60 == 0 && second/60%10 != 0 {
				continue
			}
			if clk.label(frame) != label || clk.frame(label) != frame {
				t.Fatalf("at %d/1001: frame %d has label %d and label %d frame %d",
					c.num, frame, clk.label(frame), label, clk.frame(label))
			}
			frame++
		}
		if frame != c.perDay || clk.perDay() != c.perDay {
			t.Errorf("at %d/1001 a day has %d frames, by formula %d, want %d", c.num, frame, clk.perDay(), c.perDay)
		}
	}
}

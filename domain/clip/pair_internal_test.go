package clip

import (
	"math"
	"math/rand/v2"
	"testing"

	"delaybook/domain/recording"
)

// drawn is a card of a chance phase: beeps, and flashes at an offset, both with
// events missing and extra ones, flashes as roughly as a frame of 1/24 s allows.
func drawn(rng *rand.Rand, length, offset, missing float64) (flash, beep []float64) {
	k := rng.IntN(len(cardCycle))
	for t := rng.Float64(); t < length; t += cardCycle[k%len(cardCycle)] {
		k++
		if f := t + offset + (rng.Float64()-0.5)/24; f > 0 && f < length && rng.Float64() > missing {
			flash = append(flash, f)
		}
		if rng.Float64() > missing {
			beep = append(beep, t)
		}
	}
	return flash, beep
}

// TestPairing draws cards with offsets to 2 s either way. The target is that all
// are paired right; with a tenth of the events missing, none may be paired wrongly.
func TestPairing(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(41, 7))
	for range 400 {
		length, offset := 10+20*rng.Float64(), 4*rng.Float64()-2
		missing := 0.1 * float64(rng.IntN(2))
		flash, beep := drawn(rng, length, offset, missing)
		found, why := join(flash, beep, 1.0/24)
		if why != "" {
			if missing == 0 && length-math.Abs(offset) > 9 {
				t.Errorf("%.1f s, offset %.3f s: refused as %s", length, offset, why)
			}
			continue
		}
		if len(found) != 1 || math.Abs(found[0].offsetS-offset) > 0.02 {
			t.Errorf("%.1f s, offset %.3f s, missing %.1f: found %d, the first %.3f s", length, offset, missing, len(found), found[0].offsetS)
		}
	}
}

// TestWhatDoesNotBelongIsRefused pairs flashes of one card with beeps of another
// or of the same beyond reach.
func TestWhatDoesNotBelongIsRefused(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(42, 7))
	wrong := 0
	for range 400 {
		length := 8 + 22*rng.Float64()
		flash, beep := drawn(rng, length, 0, 0)
		if rng.IntN(2) == 0 {
			flash, beep = drawn(rng, length, 2.6+2*rng.Float64(), 0)
		} else {
			for i, t := 0, rng.Float64(); i < len(flash); i++ {
				flash[i] = t
				t += 0.7 + 0.7*rng.Float64()
			}
		}
		if _, why := join(flash, beep, 1.0/30); why == "" {
			wrong++
			t.Logf("%.1f s: %d flashes, %d beeps", length, len(flash), len(beep))
		} else if why == recording.NoBeeps {
			t.Errorf("refused as %s", why)
		}
	}
	if wrong > 0 {
		t.Errorf("%d of 400 paired", wrong)
	}
}

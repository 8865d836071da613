package law

import "math"

// A Window is a published or company limit: after is inside when -Late <= after <= Early, bounds
// included ("shall not exceed", Rec. ITU-R BT.1359-1). Both are in ms and are written unsigned.
type Window struct {
	// Early is how much the sound may be early, ms.
	Early float64
	// Late is how much the sound may be late, ms.
	Late float64
}

// Contains says whether an offset of after ms lies in the window, bounds included.
func (w Window) Contains(after float64) bool { return -w.Late <= after && after <= w.Early }

// Chance is the probability that the next power-up, around a location of after ms, lies in the
// window: F((early-after)/q) - F((-late-after)/q).
func (l Law) Chance(after float64, w Window) float64 {
	if l.Variance() == 0 {
		if w.Contains(after) {
			return 1
		}
		return 0
	}
	return math.Max(0, l.CDF(w.Early-after)-l.CDF(-w.Late-after))
}

// A Verdict compares an interval with a window.
type Verdict string

// The verdicts.
const (
	Inside    Verdict = "inside"    // the whole next95 is inside the limit
	Outside   Verdict = "outside"   // the whole next95 is beyond one bound
	Undecided Verdict = "undecided" // neither
)

// boundSlack absorbs the rounding of after and of the half-width, ms; it is far below a sample.
const boundSlack = 1e-9

// Judge gives the verdict on after -+ half (ms) against the window, bounds included.
func (w Window) Judge(after, half float64) Verdict {
	lo, hi := after-half, after+half
	switch {
	case lo >= -w.Late-boundSlack && hi <= w.Early+boundSlack:
		return Inside
	case lo > w.Early+boundSlack || hi < -w.Late-boundSlack:
		return Outside
	default:
		return Undecided
	}
}

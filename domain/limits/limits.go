// Package limits holds how early and how late sound may be against the picture,
// as published bodies state it, and says whether an offset is inside.
//
// It does not choose a limit for a rig and does not know how an offset was found.
//
// # Signs and bounds
//
// Offsets are in ms, picture arrival minus sound arrival: positive is sound early,
// the sign of NOTE 1 of Rec. ITU-R BT.1359-1. The bounds of a Limit are both
// written as positive numbers, how early and how late. Bounds are inclusive: the
// Recommendation says that they "shall not be exceeded".
//
// Limits are not symmetric. People are used to sound that arrives late, because
// it travels, and notice early sound sooner: +100 ms is beyond what BT.1359-1 calls
// acceptable and -100 ms is not even detectable.
//
// It imports the standard library and timebase.
package limits

import (
	"fmt"
	"math"
	"strconv"

	"delaybook/domain/timebase"
)

// Default is the slug of the limit of a destination that names none.
const Default = "ebu-r37"

// MaxMS is the widest bound of a company's own limit, in ms.
const MaxMS = 10_000.0

// A Limit is a tolerance on an offset.
type Limit struct {
	Slug      string
	Name      string
	EarlyMS   float64 // how early sound may be, ms, 0 or more
	LateMS    float64 // how late sound may be, ms, 0 or more
	Source    string  // the document and clause; for a company's limit, its own words
	Where     string  // the place in the chain, or the material, that it is for
	Published bool    // false: the company's own
}

// Contains reports whether an offset in ms is inside, the bounds included. NaN
// is not.
func (l Limit) Contains(offsetMS float64) bool {
	return offsetMS >= -l.LateMS && offsetMS <= l.EarlyMS
}

// A Verdict says where an uncertain offset lies.
type Verdict string

// The verdicts.
const (
	Inside    Verdict = "inside"    // the whole interval is inside
	Outside   Verdict = "outside"   // the whole interval is outside, on one side
	Undecided Verdict = "undecided" // neither: the measurements do not tell
)

// Judge returns the verdict on an interval of offsets in ms, both ends included.
// An interval that touches a bound from outside has a point inside, so it is
// Undecided, and so is one with an end of NaN or with its ends exchanged. This is
// the simple case of the guarded decision rules of JCGM 106 (from memory).
func (l Limit) Judge(loMS, hiMS float64) Verdict {
	switch {
	case !(loMS <= hiMS):
		return Undecided
	case l.Contains(loMS) && l.Contains(hiMS):
		return Inside
	case hiMS < -l.LateMS || loMS > l.EarlyMS:
		return Outside
	}
	return Undecided
}

// CheckBounds refuses the bounds of a company's own limit that are negative, not
// finite, above MaxMS or both 0; the error is a *timebase.InputError.
func CheckBounds(earlyMS, lateMS float64) error {
	for _, bound := range []struct {
		name string
		ms   float64
	}{{"early", earlyMS}, {"late", lateMS}} {
		if bound.ms >= 0 && bound.ms <= MaxMS {
			continue
		}
		send := fmt.Sprintf("ms from 0 to %g", MaxMS)
		if bound.ms < 0 && bound.ms >= -MaxMS {
			send = strconv.FormatFloat(-bound.ms, 'g', -1, 64)
		}
		return &timebase.InputError{
			Input:  strconv.FormatFloat(bound.ms, 'g', 6, 64),
			Detail: fmt.Sprintf("how %s sound may be is a positive number of ms", bound.name),
			Send:   send,
		}
	}
	if math.Max(earlyMS, lateMS) == 0 {
		return &timebase.InputError{
			Input:  "0",
			Detail: "a limit of 0 ms either way can never be met",
			Send:   "a positive number of ms for early, late or both",
		}
	}
	return nil
}

// Package limits holds how early and how late sound may be against the picture,
// as published bodies state it, and checks the bounds of a company's own.
//
// It does not choose a limit for a rig; whether an offset is inside is for
// package law, which knows how sure the offset is.
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
// It imports the standard library and law.
package limits

import (
	"fmt"
	"strconv"

	"delaybook/domain/law"
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

// Window is what the limit allows, in ms.
func (l Limit) Window() law.Window { return law.Window{Early: l.EarlyMS, Late: l.LateMS} }

// A Fault says what is wrong with a bound and what to send instead.
type Fault struct {
	Bound        string // "early" or "late"
	Detail, Send string
}

// CheckBounds refuses the bounds, in ms, of a company's own limit that are
// negative, not finite, above MaxMS or both 0. It returns nothing when they will
// do.
func CheckBounds(earlyMS, lateMS float64) []Fault {
	var out []Fault
	for _, b := range []struct {
		name string
		ms   float64
	}{{"early", earlyMS}, {"late", lateMS}} {
		if b.ms >= 0 && b.ms <= MaxMS {
			continue
		}
		send := fmt.Sprintf("ms from 0 to %g", MaxMS)
		if b.ms < 0 && b.ms >= -MaxMS {
			send = strconv.FormatFloat(-b.ms, 'g', -1, 64)
		}
		out = append(out, Fault{
			b.name, fmt.Sprintf("%g is no bound: how %s the sound may be is a positive number of ms, without a sign", b.ms, b.name), send,
		})
	}
	if earlyMS == 0 && lateMS == 0 {
		out = append(out, Fault{
			"early", "a limit of 0 ms either way can never be met", "a positive number of ms for early, late or both",
		})
	}
	return out
}

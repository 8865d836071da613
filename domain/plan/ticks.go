package plan

import (
	"math/big"
	"strings"

	"delaybook/domain/timebase"
)

// TicksPerMS is how many ticks, the planner's unit, make a millisecond.
const TicksPerMS = timebase.TicksPerMS

// maxMS bounds every duration of a problem: about 28 hours, far from where sums of ticks wrap.
const maxMS = 100_000_000

// toTicks rounds ms to the nearest tick, halves away from zero; ok is false beyond maxMS.
func toTicks(ms *big.Rat) (ticks int64, ok bool) {
	if ms == nil {
		return 0, true
	}
	if new(big.Rat).Abs(ms).Cmp(big.NewRat(maxMS, 1)) > 0 {
		return 0, false
	}
	t, err := timebase.RoundTicks(ms)
	return int64(t), err == nil
}

func toMS(ticks int64) float64 { return float64(ticks) / TicksPerMS }

// decimal writes a rational as a decimal without trailing zeros where one is exact, else as a/b.
func decimal(r *big.Rat) string {
	if r == nil {
		return "0"
	}
	if r.IsInt() {
		return r.Num().String()
	}
	digits, exact := r.FloatPrec()
	if !exact {
		return r.RatString()
	}
	return strings.TrimRight(r.FloatString(digits), "0")
}

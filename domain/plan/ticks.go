package plan

import (
	"math/big"
	"strings"
)

// TicksPerMS is how many ticks, the planner's unit, make a millisecond. 705600 = 2^6 3^2 5^2 7^2
// holds a sample at 44.1, 48, 88.2, 96 and 192 kHz and a frame at 24, 25, 30, 50, 60 and their
// 1000/1001 companions a whole number of times.
const TicksPerMS = 705600

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
	scaled := new(big.Rat).Mul(ms, big.NewRat(2*TicksPerMS, 1))
	num := new(big.Int).Set(scaled.Num())
	negative := num.Sign() < 0
	num.Abs(num)
	half := new(big.Int).Quo(num, scaled.Denom()).Int64()
	ticks = (half + 1) / 2
	if negative {
		ticks = -ticks
	}
	return ticks, true
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

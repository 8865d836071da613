package timebase

import (
	"math"
	"math/big"
)

// TicksPerMS is the number of ticks in a millisecond; 705 600 000 in a second.
const TicksPerMS = 705_600

// Ticks is a duration in units of 1/705600 ms, in which milliseconds, samples
// and frames of the usual rates are integers; the package comment says which.
// The range is ±414 years. Sums of Ticks are exact in any order.
type Ticks int64

// RoundTicks returns the tick nearest to ms, halves away from zero. It returns
// ErrRange where that is outside int64.
func RoundTicks(ms *big.Rat) (Ticks, error) {
	n, err := Nearest(inTicks(ms))
	return Ticks(n), err
}

// ExactTicks returns ms in ticks. It returns ErrOffGrid if ms is not a whole
// number of ticks and ErrRange if it is outside int64.
func ExactTicks(ms *big.Rat) (Ticks, error) {
	x := inTicks(ms)
	switch {
	case !x.IsInt():
		return 0, ErrOffGrid
	case !x.Num().IsInt64():
		return 0, ErrRange
	}
	return Ticks(x.Num().Int64()), nil
}

func inTicks(ms *big.Rat) *big.Rat {
	x := new(big.Rat).SetInt64(TicksPerMS)
	return x.Mul(x, ms)
}

// TicksOfMS returns the tick nearest to ms, halves away from zero. It returns
// ErrRange for NaN, infinities and results outside int64.
func TicksOfMS(ms float64) (Ticks, error) {
	x, err := RatOfMS(ms)
	if err != nil {
		return 0, err
	}
	return RoundTicks(x)
}

// MS returns the duration in ms, rounded once.
func (t Ticks) MS() float64 { return quotient(int64(t), 1, TicksPerMS) }

// Rat returns the duration in ms, exactly.
func (t Ticks) Rat() *big.Rat { return big.NewRat(int64(t), TicksPerMS) }

// Add returns t+u. It saturates: a sum that wrapped round could land inside a
// limit.
func (t Ticks) Add(u Ticks) Ticks {
	sum := t + u
	switch {
	case t > 0 && u > 0 && sum < 0:
		return math.MaxInt64
	case t < 0 && u < 0 && sum >= 0:
		return math.MinInt64
	}
	return sum
}

// Sub returns t-u. It saturates.
func (t Ticks) Sub(u Ticks) Ticks {
	diff := t - u
	switch {
	case t >= 0 && u < 0 && diff < 0:
		return math.MaxInt64
	case t < 0 && u > 0 && diff >= 0:
		return math.MinInt64
	}
	return diff
}

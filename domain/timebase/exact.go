package timebase

import (
	"math"
	"math/big"
)

// quotient returns a*b/c rounded once. b and c are positive.
func quotient(a, b, c int64) float64 {
	const exactInt = 1 << 53 // integers to here are float64 values, and one division rounds once
	if b <= exactInt && c <= exactInt && -exactInt/b <= a && a <= exactInt/b {
		return float64(a*b) / float64(c)
	}
	x := new(big.Rat).SetInt64(a)
	return Float(x.Mul(x, big.NewRat(b, c)))
}

// Float returns the float64 nearest to x, ties to even. Beyond ±MaxFloat64 it
// saturates there, so that the result can stand in JSON.
func Float(x *big.Rat) float64 {
	f, _ := x.Float64()
	return min(max(f, -math.MaxFloat64), math.MaxFloat64)
}

// RatOfMS returns the exact value of a float64. It returns ErrRange for NaN and
// infinities.
func RatOfMS(ms float64) (*big.Rat, error) {
	x := new(big.Rat).SetFloat64(ms)
	if x == nil {
		return nil, ErrRange
	}
	return x, nil
}

// Nearest returns the integer nearest to x, halves away from zero. It returns
// ErrRange for results outside int64 and does not modify x.
func Nearest(x *big.Rat) (int64, error) {
	// round(|x|) = floor((2|n| + d) / 2d)
	n := new(big.Int).Abs(x.Num())
	n.Lsh(n, 1).Add(n, x.Denom())
	n.Quo(n, new(big.Int).Lsh(x.Denom(), 1))
	if x.Sign() < 0 {
		n.Neg(n)
	}
	if !n.IsInt64() {
		return 0, ErrRange
	}
	return n.Int64(), nil
}

package law

import (
	"fmt"
	"math"
)

// normalAbove is where the t distribution is the normal to all the digits we print.
const normalAbove = 1e6

const mostFactor = 1e150

// StudentFactor is t_{df,0.975}/1.959964, by which half-widths grow because the variances were
// estimated with df degrees of freedom. It is 1 for df above 1e6 or infinite and at most 1e150, which
// it passes below 0.009: no interval ends at infinity. df must be above 0.
func StudentFactor(df float64) (float64, error) {
	if !(df > 0) {
		return 0, fmt.Errorf("%w: %v degrees of freedom; send a number above 0", ErrLaw, df)
	}
	if df > normalAbove {
		return 1, nil
	}
	return math.Max(1, math.Min(StudentQuantile(df, 0.95)/Z975, mostFactor)), nil
}

// Quantile is the x (ms) with P(X <= x) = p, for p strictly between 0 and 1; else NaN.
func (l Law) Quantile(p float64) float64 {
	if !(p > 0 && p < 1) {
		return math.NaN()
	}
	if p < 0.5 {
		return -l.Quantile(1 - p)
	}
	return l.factor() * l.baseQuantile(p)
}

// HalfWidth95 is the half-width, ms, of the interval around the location that holds 95 %: of
// next95 when the law is that of the next power-up.
func (l Law) HalfWidth95() float64 { return l.Quantile(0.975) }

// baseQuantile solves base(x) = p for p >= 0.5 by Newton steps kept inside a shrinking bracket.
func (l Law) baseQuantile(p float64) float64 {
	if l.Variance() == 0 {
		return 0
	}
	if l.S <= 1e-12*l.A {
		return l.A * (2*p - 1)
	}
	lo, hi := 0.0, l.A+40*l.S
	x := math.Sqrt(l.Variance())
	for range 200 {
		f := l.base(x) - p
		if f < 0 {
			lo = x
		} else {
			hi = x
		}
		next := x - f/l.density(x)
		if !(next > lo && next < hi) {
			next = lo + (hi-lo)/2
		}
		if math.Abs(next-x) <= 1e-15*x || next == lo || next == hi {
			return next
		}
		x = next
	}
	return x
}

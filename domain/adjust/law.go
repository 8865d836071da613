package adjust

import "math"

// A Law is a uniform plus a normal variable, scaled by a Student factor: the law
// of an estimation error whose known part is uniform phases and rounding. It has
// mean 0. The zero Law is an error of exactly 0.
type Law struct {
	A float64 // half-width of the uniform part
	S float64 // standard deviation of the normal part
	T float64 // scale: Student quantile at 0.975 over the normal one, >= 1
}

// narrow is the ratio A/S below which the uniform part counts as normal: there
// the difference in CDF loses digits, and the laws differ by less than 1e-12.
const narrow = 1e-3

// NewLaw returns the law with a variance, a fourth cumulant kappa <= 0 and df
// degrees of freedom: A takes the fourth cumulant of a uniform variable of
// half-width A, -A^4/7.5, and S the rest of the variance. It is exact for one
// uniform and any number of normal errors.
func NewLaw(variance, kappa, df float64) Law {
	a := min(math.Pow(max(0, -7.5*kappa), 0.25), math.Sqrt(3*variance))
	s := math.Sqrt(max(0, variance-a*a/3))
	if a < narrow*s {
		a, s = 0, math.Sqrt(variance)
	}
	return Law{A: a, S: s, T: StudentFactor(df)}
}

// CDF returns the unscaled distribution function,
//
//	F(x) = S/(2A) [G((x+A)/S) - G((x-A)/S)],   G(z) = z Phi(z) + phi(z)
func (l Law) CDF(x float64) float64 {
	if x > 0 {
		return 1 - l.lower(-x) // small tails keep their digits on the left
	}
	return l.lower(x)
}

func (l Law) lower(x float64) float64 {
	switch {
	case l.A == 0 && l.S == 0:
		if x < 0 {
			return 0
		}
		return 0.5
	case l.A == 0:
		return NormalCDF(x / l.S)
	case l.S < 1e-9*l.A:
		return max(0, min(1, (x+l.A)/(2*l.A)))
	}
	f := l.S / (2 * l.A) * (integralCDF((x+l.A)/l.S) - integralCDF((x-l.A)/l.S))
	return max(0, min(1, f))
}

// integralCDF is G, the integral of the normal distribution function.
func integralCDF(z float64) float64 {
	return z*NormalCDF(z) + math.Exp(-z*z/2)/math.Sqrt(2*math.Pi)
}

// Quantile returns the inverse of CDF for 0 < p < 1.
func (l Law) Quantile(p float64) float64 {
	if p < 0.5 {
		return -l.Quantile(1 - p)
	}
	if l.A == 0 {
		return l.S * NormalQuantile(p)
	}
	lo, hi := 0.0, l.A+l.S*max(1, NormalQuantile(p))
	for l.CDF(hi) < p {
		hi *= 2
	}
	for range 100 {
		mid := lo + (hi-lo)/2
		if mid == lo || mid == hi {
			break
		}
		if l.CDF(mid) < p {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// HalfWidth95 returns half of the scaled 95 % interval.
func (l Law) HalfWidth95() float64 { return l.Quantile(0.975) * l.scale() }

// Chance returns the probability that the scaled error lies in [low, high].
func (l Law) Chance(low, high float64) float64 {
	if !(low <= high) {
		return 0
	}
	q := l.scale()
	if l.A == 0 && l.S == 0 {
		if low <= 0 && high >= 0 {
			return 1
		}
		return 0
	}
	if low > 0 { // both in the upper tail: reflect to keep digits
		low, high = -high, -low
	}
	return max(0, l.CDF(high/q)-l.CDF(low/q))
}

func (l Law) scale() float64 {
	if l.T == 0 {
		return 1
	}
	return l.T
}

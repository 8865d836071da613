package law

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// NormalQuantile returns the z below which a standard normal variable lies with
// probability p, 0 < p < 1.
func NormalQuantile(p float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*p) }

// StudentQuantile returns the two-sided quantile of Student's law: the t with
// P(|X| <= t) = p for nu > 0 degrees of freedom, 0 < p < 1. From nu = 1000 on it
// is the expansion of G. W. Hill, Comm. ACM 13 (1970) 617 (Abramowitz & Stegun
// 26.7.5), below it the root of the incomplete beta function.
//
// Special cases are:
//
//	StudentQuantile(+Inf, p) is the normal quantile
func StudentQuantile(nu, p float64) float64 {
	z := NormalQuantile(0.5 + p/2)
	if math.IsInf(nu, 1) {
		return z
	}
	if nu >= 1000 {
		return hill(z, nu)
	}
	return studentRoot(nu, p)
}

func hill(z, nu float64) float64 {
	z2 := z * z
	g1 := z * (z2 + 1) / 4
	g2 := z * ((5*z2+16)*z2 + 3) / 96
	g3 := z * (((3*z2+19)*z2+17)*z2 - 15) / 384
	g4 := z * ((((79*z2+776)*z2+1482)*z2-1920)*z2 - 945) / 92160
	return z + (g1+(g2+(g3+g4/nu)/nu)/nu)/nu
}

// studentRoot solves P(|X| > t) = I_{nu/(nu+t^2)}(nu/2, 1/2) = 1-p.
func studentRoot(nu, p float64) float64 {
	x := mathext.InvRegIncBeta(nu/2, 0.5, 1-p)
	return math.Sqrt(nu * (1 - x) / x)
}

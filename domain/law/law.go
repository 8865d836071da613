// Package law is the law of what the next power-up may give around an estimated offset.
//
// A source that runs on its own clock is re-timed to whole frames, so one power-up to the next its
// delay moves by a phase that is uniform over one frame; everything else (reading, other scatter,
// what is not yet known) is close to normal. The law is therefore the sum of a uniform of half-width
// A and a normal of standard deviation S, stretched by a Student factor Q for the variances having
// been estimated:
//
//	F(x) = S/(2A) [ G((x+A)/S) - G((x-A)/S) ],  G(z) = z Phi(z) + phi(z)
//	P(X <= x) = F(x/Q)
//
// F is exact for one uniform plus a normal; for other mixtures FromMoments matches the second and
// fourth cumulants. G is the integral of the normal distribution function, so F is the average of
// Phi over the uniform (the convolution of a rectangle and a normal, as in JCGM 101:2008, 9.2.3).
//
// Signs and units: offsets are in milliseconds, positive when the sound is early.
package law

import (
	"errors"
	"fmt"
	"math"
)

// Z975 is the 0.975 point of the standard normal distribution.
const Z975 = 1.959963984540054

// normalBelow is the ratio A/S under which the uniform part is folded into the normal: the
// difference of two nearly equal G would lose the digits that it is meant to add (the fourth
// cumulant it carries is below 1e-13 of the variance squared there).
const normalBelow = 1e-3

// ErrLaw says that the numbers do not make a law; the message names the one at fault.
var ErrLaw = errors.New("not a law")

// A Law is the distribution of (next power-up minus its location). The zero Law is a certainty.
type Law struct {
	// A is the half-width of the uniform part, ms, >= 0: half a frame for one free-running source.
	A float64
	// S is the standard deviation of the normal part, ms, >= 0.
	S float64
	// Q is the Student factor t_{df,0.975}/1.959964, >= 1; 0 is read as 1 (variances known).
	Q float64
}

// New returns the law with uniform half-width a and normal standard deviation s, both in ms, and
// Student factor q. It refuses what is negative, not finite, or a factor below 1.
func New(a, s, q float64) (Law, error) {
	switch {
	case !(a >= 0) || math.IsInf(a, 1):
		return Law{}, fmt.Errorf("%w: uniform half-width %v ms; send 0 or more", ErrLaw, a)
	case !(s >= 0) || math.IsInf(s, 1):
		return Law{}, fmt.Errorf("%w: standard deviation %v ms; send 0 or more", ErrLaw, s)
	case !(q >= 1) || math.IsInf(q, 1):
		return Law{}, fmt.Errorf("%w: Student factor %v; send 1 or more (t of the degrees of freedom over %.6f)", ErrLaw, q, Z975)
	}
	return Law{A: a, S: s, Q: q}, nil
}

// FromMoments returns the law with variance m (ms^2), fourth cumulant kappa (ms^4, <= 0 for
// uniform parts) and df degrees of freedom (+Inf: variances known):
//
//	A = min((-7.5 kappa)^(1/4), sqrt(3 m)),  S^2 = m - A^2/3,  Q = t_{df,0.975}/1.959964
//
// The fourth cumulant of a uniform of half-width A is -2 A^4/15. A positive kappa counts as 0.
func FromMoments(m, kappa, df float64) (Law, error) {
	if !(m >= 0) || math.IsInf(m, 1) {
		return Law{}, fmt.Errorf("%w: variance %v ms^2; send 0 or more", ErrLaw, m)
	}
	if math.IsNaN(kappa) || math.IsInf(kappa, 0) {
		return Law{}, fmt.Errorf("%w: fourth cumulant %v; send a finite number", ErrLaw, kappa)
	}
	q, err := StudentFactor(df)
	if err != nil {
		return Law{}, err
	}
	a := math.Min(math.Pow(math.Max(-7.5*kappa, 0), 0.25), math.Sqrt(3*m))
	return Law{A: a, S: math.Sqrt(math.Max(m-a*a/3, 0)), Q: q}, nil
}

// Variance is S^2 + A^2/3, ms^2, without the Student factor.
func (l Law) Variance() float64 { return l.S*l.S + l.A*l.A/3 }

func (l Law) factor() float64 {
	if l.Q == 0 {
		return 1
	}
	return l.Q
}

// CDF is P(X <= x), x in ms.
func (l Law) CDF(x float64) float64 { return l.base(x / l.factor()) }

// base is F without the Student factor. Special cases are:
//
//	A < 1e-3 S  normal with variance S^2 + A^2/3
//	S = 0       uniform
//	A = S = 0   a step at 0 (1 at 0 itself)
func (l Law) base(x float64) float64 {
	if l.A < normalBelow*l.S {
		return phiCap(x / math.Sqrt(l.Variance()))
	}
	if l.A == 0 {
		if x < 0 {
			return 0
		}
		return 1
	}
	if l.S <= 1e-12*l.A {
		return math.Min(1, math.Max(0, (x+l.A)/(2*l.A)))
	}
	f := l.S / (2 * l.A) * (ramp((x+l.A)/l.S) - ramp((x-l.A)/l.S))
	return math.Min(1, math.Max(0, f))
}

// density is the derivative of base, 1/ms; base is not differentiable where it is a step.
func (l Law) density(x float64) float64 {
	if l.A < normalBelow*l.S {
		sd := math.Sqrt(l.Variance())
		return phi(x/sd) / sd
	}
	if l.S <= 1e-12*l.A {
		if l.A == 0 || math.Abs(x) > l.A {
			return 0
		}
		return 1 / (2 * l.A)
	}
	return (phiCap((x+l.A)/l.S) - phiCap((x-l.A)/l.S)) / (2 * l.A)
}

// phi and phiCap are the density and distribution function of the standard normal.
func phi(z float64) float64    { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }
func phiCap(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// ramp is G(z) = z Phi(z) + phi(z), the integral of Phi up to z.
func ramp(z float64) float64 { return z*phiCap(z) + phi(z) }

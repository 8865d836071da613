package timebase

import (
	"cmp"
	"math/big"
	"strconv"
)

// The bounds of a Rate. maxTerm bounds numerator and denominator so that the
// product of two terms fits an int64, and each term a four-byte integer.
const (
	minFPS  = 1
	maxFPS  = 1000
	maxTerm = 1_000_000_000
)

// A Rate is an exact number of frames per second, a reduced fraction. Rates
// compare with ==. The zero Rate is not valid: NewRate and ParseRate return
// valid ones, and the arithmetic methods panic on a zero Rate.
type Rate struct{ num, den int64 }

// NewRate returns num/den frames per second in lowest terms. It refuses rates
// below 1 or above 1000 frames per second, and terms that stay above 10^9 after
// reduction. The error is an *InputError.
func NewRate(num, den int64) (Rate, error) {
	text := strconv.FormatInt(num, 10) + "/" + strconv.FormatInt(den, 10)
	if num <= 0 || den <= 0 {
		return Rate{}, inputError(text, "both terms of a frame rate must be positive", `a rational like "30000/1001"`)
	}
	g := gcd(num, den)
	num, den = num/g, den/g
	if num > maxTerm || den > maxTerm {
		return Rate{}, inputError(text, "the terms of the frame rate are above 1000000000", `a rational like "30000/1001"`)
	}
	switch {
	case num > maxFPS*den:
		return Rate{}, inputError(text, "more than 1000 frames per second is a sample rate, not a frame rate",
			`frames per second like "30000/1001" or "25"`)
	case num < minFPS*den:
		return Rate{}, inputError(text, "less than 1 frame per second", `frames per second like "30000/1001" or "25"`)
	}
	return Rate{num, den}, nil
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// Num returns the numerator, in lowest terms.
func (r Rate) Num() int64 { return r.num }

// Den returns the denominator, in lowest terms; 0 for the zero Rate.
func (r Rate) Den() int64 { return r.den }

// IsZero reports whether r is the zero Rate, which is not valid. With the
// "omitzero" option JSON leaves such a field out.
func (r Rate) IsZero() bool { return r == Rate{} }

// String returns the canonical form, "30000/1001" or "25", which ParseRate
// reads back; "" for the zero Rate.
func (r Rate) String() string {
	switch r.den {
	case 0:
		return ""
	case 1:
		return strconv.FormatInt(r.num, 10)
	}
	return strconv.FormatInt(r.num, 10) + "/" + strconv.FormatInt(r.den, 10)
}

// Label returns what people call the rate: "29.97" for 30000/1001, "25" for 25,
// and the fraction where there is no customary name. ParseRate reads it back.
func (r Rate) Label() string {
	for _, l := range labels {
		if l.rate == r {
			return l.text // the first of several is the customary one
		}
	}
	return r.String()
}

// Float returns frames per second, rounded once.
func (r Rate) Float() float64 {
	r.must()
	return float64(r.num) / float64(r.den)
}

// Rat returns frames per second, exactly.
func (r Rate) Rat() *big.Rat {
	r.must()
	return big.NewRat(r.num, r.den)
}

// Cmp orders rates: -1 if r is slower than s, 0 if equal, 1 if faster.
func (r Rate) Cmp(s Rate) int { return cmp.Compare(r.num*s.den, s.num*r.den) }

// must stops a caller that computes with the zero Rate, which would divide by zero.
func (r Rate) must() {
	if r.den == 0 {
		panic("timebase: the zero Rate has no frames")
	}
}

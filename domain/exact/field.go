package exact

import "math/bits"

// modulus is the Mersenne prime 2^61-1 (prime by Pervushin 1883; the ninth
// Mersenne prime, OEIS A000668).
const modulus = 1<<61 - 1

// residue is n modulo the prime, in [0, modulus).
func residue(n int64) uint64 {
	r := n % modulus
	if r < 0 {
		r += modulus
	}
	return uint64(r)
}

func sum(a, b uint64) uint64 {
	s := a + b
	if s >= modulus {
		s -= modulus
	}
	return s
}

func negative(a uint64) uint64 {
	if a == 0 {
		return 0
	}
	return modulus - a
}

// product uses 2^61 = 1 modulo the prime: the bits above the 61st are added to
// those below.
func product(a, b uint64) uint64 {
	hi, lo := bits.Mul64(a, b)
	return sum(hi<<3|lo>>61, lo&modulus)
}

// inverse is 1/a for a != 0, by Fermat's little theorem.
func inverse(a uint64) uint64 {
	switch a {
	case 1, modulus - 1:
		return a
	}
	out := uint64(1)
	for e := uint64(modulus - 2); e > 0; e >>= 1 {
		if e&1 == 1 {
			out = product(out, a)
		}
		a = product(a, a)
	}
	return out
}

// largestPart bounds numerator and denominator of a recovered fraction. Of the
// residues, 2^34 of 2^61 are such a fraction, so a residue that is none passes
// for one with a chance of about 1e-8.
const largestPart = 1 << 16

// fraction finds the small fraction num/den that equals a modulo the prime, by
// the extended Euclidean algorithm stopped half-way (Wang, "A p-adic algorithm
// for univariate partial fractions", SYMSAC 1981).
func fraction(a uint64) (num, den int64, ok bool) {
	r0, r1 := int64(modulus), int64(a)
	t0, t1 := int64(0), int64(1)
	for r1 > largestPart {
		q := r0 / r1
		r0, r1 = r1, r0-q*r1
		t0, t1 = t1, t0-q*t1
	}
	if t1 < 0 {
		r1, t1 = -r1, -t1
	}
	if t1 == 0 || t1 > largestPart {
		return 0, 0, false
	}
	return r1, t1, true
}

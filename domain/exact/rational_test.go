package exact_test

import (
	"math/big"
	"math/rand/v2"

	"delaybook/domain/exact"
)

// rational is the oracle: plain Gauss-Jordan elimination of a dense matrix of
// fractions, pivots leftmost.
type rational struct {
	columns int
	rows    [][]*big.Rat
	lead    []int
}

func newRational(columns int, rows [][]exact.Term) *rational {
	r := &rational{columns: columns}
	for _, row := range rows {
		v := r.reduce(dense(columns, row))
		p := leading(v)
		if p < 0 {
			continue
		}
		scale(v, new(big.Rat).Inv(v[p]))
		for i := range r.rows {
			subtract(r.rows[i], v, p)
		}
		r.rows, r.lead = append(r.rows, v), append(r.lead, p)
	}
	return r
}

func dense(columns int, row []exact.Term) []*big.Rat {
	v := make([]*big.Rat, columns)
	for c := range v {
		v[c] = new(big.Rat)
	}
	for _, t := range row {
		v[t.Column].Add(v[t.Column], big.NewRat(t.Coef, 1))
	}
	return v
}

func (r *rational) reduce(v []*big.Rat) []*big.Rat {
	for i, row := range r.rows {
		subtract(v, row, r.lead[i])
	}
	return v
}

func leading(v []*big.Rat) int {
	for c, x := range v {
		if x.Sign() != 0 {
			return c
		}
	}
	return -1
}

func scale(v []*big.Rat, f *big.Rat) {
	for c := range v {
		v[c].Mul(v[c], f)
	}
}

// subtract clears column p of v with a row that has 1 there.
func subtract(v, row []*big.Rat, p int) {
	f := new(big.Rat).Set(v[p])
	if f.Sign() == 0 {
		return
	}
	for c := range v {
		v[c].Sub(v[c], new(big.Rat).Mul(f, row[c]))
	}
}

// row is the reduced row of a pivot.
func (r *rational) row(pivot int) []*big.Rat {
	for i, p := range r.lead {
		if p == pivot {
			return r.rows[i]
		}
	}
	return nil
}

// randomRows draws chains: differences of short sums, a few columns repeated,
// few enough rows to leave some columns open.
func randomRows(rng *rand.Rand, columns, rows int) [][]exact.Term {
	out := make([][]exact.Term, rows)
	for i := range out {
		for range 1 + rng.IntN(4) {
			out[i] = append(out[i], exact.Term{Column: rng.IntN(columns), Coef: 1})
		}
		for range rng.IntN(4) {
			out[i] = append(out[i], exact.Term{Column: rng.IntN(columns), Coef: -1})
		}
	}
	return out
}

// randomContrast is a small combination of rows, two times in three with one
// entry changed.
func randomContrast(rng *rand.Rand, columns int, rows [][]exact.Term) []exact.Term {
	var out []exact.Term
	for range 1 + rng.IntN(3) {
		if len(rows) == 0 {
			break
		}
		f := int64(rng.IntN(5) - 2)
		for _, t := range rows[rng.IntN(len(rows))] {
			out = append(out, exact.Term{Column: t.Column, Coef: f * t.Coef})
		}
	}
	if rng.IntN(3) > 0 {
		out = append(out, exact.Term{Column: rng.IntN(columns), Coef: 1})
	}
	return out
}

// Package exact decides which combinations of unknowns a set of observations
// fixes, without any tolerance.
//
// The rows of a design matrix hold small integers: a latency enters an
// observation once or twice, with a sign. Whether a combination of latencies
// is determined is then a question of exact linear algebra: it is, when the
// combination lies in the space spanned by the rows. Floating point would
// answer it with a threshold; this package answers it in the field of integers
// modulo the Mersenne prime 2^61-1.
//
// A statement that holds in rational numbers holds in the field as long as the
// prime divides none of the denominators that the elimination meets. Those are
// minors of a small-integer matrix, so nothing but chance could make one a
// multiple of the prime: about one in 2^61 for each pivot.
//
// The result is the reduced row echelon form, which is unique for a given
// order of the columns: it depends neither on the order of the rows nor on how
// it was computed. So two programs with equal columns give equal answers.
package exact

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// largestCoef bounds the coefficients of a row: far above any count of a
// latency in a chain, far below where products would look random.
const largestCoef = 1 << 20

// Term is one entry of a row or of a contrast.
type Term struct {
	Column int   // from 0
	Coef   int64 // at most 2^20 in size
}

// System is the reduced row echelon form of the rows seen so far, pivots
// leftmost in the order of the columns. Reading it from several goroutines is
// safe while none adds to it.
type System struct {
	columns int
	rank    int
	// rest[p] is the reduced row of pivot column p without its leading 1; it
	// holds free columns only. pivot[p] tells an empty rest from no row.
	rest  []vector
	pivot []bool
	// users[f] lists pivots whose row contains column f. It may name a pivot
	// twice or one whose row lost f: readers check.
	users [][]int32
}

// New returns a system of the given number of columns and no rows. The error
// says so when the number is negative or above 2^31-1.
func New(columns int) (*System, error) {
	if columns < 0 || columns > math.MaxInt32 {
		return nil, fmt.Errorf("exact: %d columns; send 0 to %d", columns, math.MaxInt32)
	}
	return &System{
		columns: columns,
		rest:    make([]vector, columns),
		pivot:   make([]bool, columns),
		users:   make([][]int32, columns),
	}, nil
}

// Columns is the number of columns the system was made for.
func (s *System) Columns() int { return s.columns }

// Rank is the number of independent rows, equal to the number of pivots.
func (s *System) Rank() int { return s.rank }

// IsPivot reports whether a reduced row leads with the column. A column
// without a pivot is one that the columns before it leave open.
func (s *System) IsPivot(column int) bool {
	return column >= 0 && column < s.columns && s.pivot[column]
}

// Pivots lists the columns with a pivot, ascending.
func (s *System) Pivots() []int { return s.list(true) }

// Free lists the columns without a pivot, ascending.
func (s *System) Free() []int { return s.list(false) }

func (s *System) list(pivot bool) []int {
	var out []int
	for c, is := range s.pivot {
		if is == pivot {
			out = append(out, c)
		}
	}
	return out
}

// Add takes one more row into the form and reports whether it was independent
// of those before. Entries of one column in the row are summed. A bad row
// leaves the system as it was.
func (s *System) Add(row []Term) (independent bool, err error) {
	v, err := s.vector(row)
	if err != nil {
		return false, err
	}
	return s.insert(v), nil
}

func (s *System) insert(v vector) bool {
	remainder := s.reduce(v)
	if len(remainder) == 0 {
		return false
	}
	p := remainder[0].column
	rest := remainder[1:].scaled(inverse(remainder[0].value))
	for _, q := range s.users[p] {
		at, found := s.rest[q].find(p)
		if !found {
			continue
		}
		c := s.rest[q][at].value
		s.rest[q] = plus(slices.Delete(s.rest[q], at, at+1), negative(c), rest)
		s.use(q, rest)
	}
	s.users[p] = nil
	s.rest[p], s.pivot[p] = rest, true
	s.use(p, rest)
	s.rank++
	return true
}

// use records that the row of pivot p may hold the columns of v.
func (s *System) use(p int32, v vector) {
	for _, e := range v {
		s.users[e.column] = append(s.users[e.column], p)
	}
}

// reduce subtracts the reduced rows from v: what is left holds free columns
// only, and nothing is left when v depends on the rows.
func (s *System) reduce(v vector) vector {
	out := make(vector, 0, len(v))
	for _, e := range v {
		if !s.pivot[e.column] {
			out = append(out, e)
		}
	}
	for _, e := range v {
		if s.pivot[e.column] {
			out = plus(out, negative(e.value), s.rest[e.column])
		}
	}
	return out
}

// Estimable reports whether the rows determine the contrast. The contrast of
// no terms is determined: it is zero.
func (s *System) Estimable(contrast []Term) (bool, error) {
	v, err := s.vector(contrast)
	if err != nil {
		return false, err
	}
	return len(s.reduce(v)) == 0, nil
}

// vector checks a caller's terms and turns them into field elements in the
// order of the columns.
func (s *System) vector(terms []Term) (vector, error) {
	v := make(vector, 0, len(terms))
	for _, t := range terms {
		if t.Column < 0 || t.Column >= s.columns {
			return nil, fmt.Errorf("exact: column %d of %d; send 0 to %d", t.Column, s.columns, s.columns-1)
		}
		if t.Coef < -largestCoef || t.Coef > largestCoef {
			return nil, fmt.Errorf("exact: coefficient %d in column %d; send -%d to %d",
				t.Coef, t.Column, largestCoef, largestCoef)
		}
		v = append(v, cell{column: int32(t.Column), value: residue(t.Coef)})
	}
	return v.normal(), nil
}

// ErrNotSmall is the error of a coefficient that is no fraction of small
// numbers. Whether a contrast is estimable stays exact; only a combination of
// so many tangled rows cannot be written down, and would help nobody.
var ErrNotSmall = errors.New("exact: a coefficient is no fraction of numbers up to 65536")

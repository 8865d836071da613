package exact

import (
	"fmt"
	"strconv"
)

// Ratio is an exact fraction in lowest terms with a positive denominator.
type Ratio struct{ Num, Den int64 }

// Float is the nearest float64. The zero Ratio, which no result holds, is 0.
func (r Ratio) Float() float64 {
	if r.Den == 0 {
		return 0
	}
	return float64(r.Num) / float64(r.Den)
}

// String writes "-1" or "3/2".
func (r Ratio) String() string {
	if r.Den == 1 {
		return strconv.FormatInt(r.Num, 10)
	}
	return strconv.FormatInt(r.Num, 10) + "/" + strconv.FormatInt(r.Den, 10)
}

// Share is one entry of a reduced row: how often a column is in a combination
// that the rows determine.
type Share struct {
	Column int
	Coef   Ratio
}

// Knowledge says what the rows tell of one column.
type Knowledge int

// The three answers.
const (
	Unknown  Knowledge = iota // no determined combination contains the column
	Known                     // the column itself is determined
	Combined                  // only together with others
)

// Knows says what the rows tell of the column; Unknown outside the range.
func (s *System) Knows(column int) Knowledge {
	p, ok := s.shortest(column)
	switch {
	case !ok:
		return Unknown
	case len(s.rest[p]) == 0:
		return Known
	}
	return Combined
}

// Row returns the reduced row that leads with the pivot column: its 1 first,
// then the free columns ascending. The error is [ErrNotSmall], or says that
// the column has no pivot.
func (s *System) Row(pivot int) ([]Share, error) {
	if !s.IsPivot(pivot) {
		return nil, fmt.Errorf("exact: column %d has no pivot", pivot)
	}
	return s.shares(int32(pivot), pivot)
}

// OnlyWith returns the determined combination in which the column appears:
// among the reduced rows that contain it the one with fewest entries, on a tie
// the row that it leads, then the row of the first pivot. The combination is
// scaled to 1 on the asked column, which stands first; the others follow in
// their order. It is nil for an Unknown column and has one entry for a Known
// one. The error is [ErrNotSmall].
func (s *System) OnlyWith(column int) ([]Share, error) {
	p, ok := s.shortest(column)
	if !ok {
		return nil, nil
	}
	return s.shares(p, column)
}

// shortest names the pivot of the shortest row that contains the column. A
// pivot column stands in no row but its own.
func (s *System) shortest(column int) (pivot int32, ok bool) {
	if column < 0 || column >= s.columns {
		return 0, false
	}
	if s.pivot[column] {
		return int32(column), true
	}
	for _, q := range s.users[column] {
		if _, found := s.rest[q].find(int32(column)); !found {
			continue
		}
		if !ok || len(s.rest[q]) < len(s.rest[pivot]) || len(s.rest[q]) == len(s.rest[pivot]) && q < pivot {
			pivot, ok = q, true
		}
	}
	return pivot, ok
}

// shares writes the row of a pivot as fractions, scaled to 1 on the column
// asked, which comes first.
func (s *System) shares(pivot int32, asked int) ([]Share, error) {
	row := append(vector{{pivot, 1}}, s.rest[pivot]...)
	at, _ := row.find(int32(asked))
	scale := inverse(row[at].value)
	out := make([]Share, 1, len(row))
	out[0] = Share{Column: asked, Coef: Ratio{1, 1}}
	for i, e := range row {
		if i == at {
			continue
		}
		num, den, ok := fraction(product(scale, e.value))
		if !ok {
			return nil, fmt.Errorf("%w: column %d beside column %d", ErrNotSmall, e.column, asked)
		}
		out = append(out, Share{Column: int(e.column), Coef: Ratio{num, den}})
	}
	return out, nil
}

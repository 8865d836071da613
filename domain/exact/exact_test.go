package exact_test

import (
	"errors"
	"math/rand/v2"
	"testing"

	"delaybook/domain/exact"

	"github.com/google/go-cmp/cmp"
)

func one(column int) exact.Share {
	return exact.Share{Column: column, Coef: exact.Ratio{Num: 1, Den: 1}}
}

func with(column int, num, den int64) exact.Share {
	return exact.Share{Column: column, Coef: exact.Ratio{Num: num, Den: den}}
}

func build(t *testing.T, columns int, rows [][]exact.Term) *exact.System {
	t.Helper()
	s, err := exact.New(columns)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		if _, err := s.Add(row); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func eliminate(t *testing.T, columns int, rows [][]exact.Term) *exact.System {
	t.Helper()
	s, err := exact.Eliminate(columns, rows)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The worked example of row reduction in Strang, "Introduction to Linear
// Algebra" (from memory): [1 2 2 2; 2 4 6 8; 3 6 8 10] has rank 2, pivots in
// columns 1 and 3 and the reduced rows [1 2 0 -2], [0 0 1 2].
func TestReducedRowsOfTextbookExample(t *testing.T) {
	t.Parallel()
	rows := [][]exact.Term{
		{{0, 1}, {1, 2}, {2, 2}, {3, 2}},
		{{0, 2}, {1, 4}, {2, 6}, {3, 8}},
		{{0, 3}, {1, 6}, {2, 8}, {3, 10}},
	}
	for name, s := range map[string]*exact.System{"Add": build(t, 4, rows), "Eliminate": eliminate(t, 4, rows)} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff([]int{0, 2}, s.Pivots()); diff != "" {
				t.Error(diff)
			}
			if diff := cmp.Diff([]int{1, 3}, s.Free()); diff != "" {
				t.Error(diff)
			}
			first, err := s.Row(0)
			if diff := cmp.Diff([]exact.Share{one(0), with(1, 2, 1), with(3, -2, 1)}, first); err != nil || diff != "" {
				t.Error(err, diff)
			}
			second, err := s.Row(2)
			if diff := cmp.Diff([]exact.Share{one(2), with(3, 2, 1)}, second); err != nil || diff != "" {
				t.Error(err, diff)
			}
		})
	}
}

func TestOnlyWith(t *testing.T) {
	t.Parallel()
	// Columns 0 to 6: camera, mixer, wall, link, box, spare, gate.
	s := build(t, 7, [][]exact.Term{
		{{0, 1}, {3, 2}},
		{{1, 1}, {2, -1}, {3, 1}},
		{{2, 1}, {3, 4}, {4, -1}},
		{{6, 3}},
	})
	for _, c := range []struct {
		column int
		knows  exact.Knowledge
		want   []exact.Share
	}{
		{0, exact.Combined, []exact.Share{one(0), with(3, 2, 1)}},
		{1, exact.Combined, []exact.Share{one(1), with(3, 5, 1), with(4, -1, 1)}},
		{2, exact.Combined, []exact.Share{one(2), with(3, 4, 1), with(4, -1, 1)}},
		{3, exact.Combined, []exact.Share{one(3), with(0, 1, 2)}},
		{4, exact.Combined, []exact.Share{one(4), with(1, -1, 1), with(3, -5, 1)}},
		{5, exact.Unknown, nil},
		{6, exact.Known, []exact.Share{one(6)}},
		{7, exact.Unknown, nil},
		{-1, exact.Unknown, nil},
	} {
		got, err := s.OnlyWith(c.column)
		if diff := cmp.Diff(c.want, got); err != nil || diff != "" {
			t.Errorf("column %d: %v %s", c.column, err, diff)
		}
		if got := s.Knows(c.column); got != c.knows {
			t.Errorf("column %d: knows %v, want %v", c.column, got, c.knows)
		}
	}
	if _, err := s.Row(5); err == nil {
		t.Error("a free column has a row")
	}
}

func TestCoefficientThatIsNotSmall(t *testing.T) {
	t.Parallel()
	s := build(t, 3, [][]exact.Term{{{0, 1 << 20}, {1, 1}}, {{1, 1 << 20}, {2, 1}}})
	if got, err := s.OnlyWith(0); err == nil {
		t.Errorf("got %v for a coefficient of 2^-40", got)
	}
}

func TestBadInput(t *testing.T) {
	t.Parallel()
	if _, err := exact.New(-1); err == nil {
		t.Error("-1 columns accepted")
	}
	if _, err := exact.Eliminate(-1, nil); err == nil {
		t.Error("-1 columns accepted")
	}
	s := build(t, 2, nil)
	for _, row := range [][]exact.Term{{{2, 1}}, {{-1, 1}}, {{0, 1 << 21}}, {{0, -1 << 62}}} {
		if _, err := s.Add(row); err == nil {
			t.Errorf("row %v accepted", row)
		}
		if _, err := s.Estimable(row); err == nil {
			t.Errorf("contrast %v accepted", row)
		}
		if _, err := exact.Eliminate(2, [][]exact.Term{row}); err == nil {
			t.Errorf("rows %v accepted", row)
		}
	}
	if s.Rank() != 0 {
		t.Errorf("rank %d after bad rows", s.Rank())
	}
}

func TestEmptyAndZeroRows(t *testing.T) {
	t.Parallel()
	rows := [][]exact.Term{nil, {{1, 2}, {1, -2}}}
	for _, s := range []*exact.System{build(t, 3, rows), eliminate(t, 3, rows), build(t, 0, nil), eliminate(t, 0, nil)} {
		if s.Rank() != 0 || len(s.Free()) != s.Columns() {
			t.Errorf("%d columns: rank %d, free %v", s.Columns(), s.Rank(), s.Free())
		}
		if ok, err := s.Estimable(nil); !ok || err != nil {
			t.Errorf("the zero contrast: %v, %v", ok, err)
		}
	}
}

func TestAgainstRationals(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(11, 61))
	contrasts, estimable := 0, 0
	for range 300 {
		columns := 1 + rng.IntN(14)
		rows := randomRows(rng, columns, rng.IntN(columns+4))
		oracle := newRational(columns, rows)
		bulk, added := eliminate(t, columns, rows), build(t, columns, rows)
		for _, s := range []*exact.System{bulk, added} {
			compare(t, oracle, s)
		}
		for range 20 {
			c := randomContrast(rng, columns, rows)
			want := leading(oracle.reduce(dense(columns, c))) < 0
			for _, s := range []*exact.System{bulk, added} {
				if got, err := s.Estimable(c); err != nil || got != want {
					t.Fatalf("contrast %v of rows %v: %v %v, want %v", c, rows, got, err, want)
				}
			}
			contrasts++
			if want {
				estimable++
			}
		}
	}
	t.Logf("%d contrasts, %d estimable", contrasts, estimable)
	if estimable < contrasts/4 || estimable > contrasts*3/4 {
		t.Errorf("%d of %d contrasts estimable: the test asks one kind only", estimable, contrasts)
	}
}

func compare(t *testing.T, oracle *rational, s *exact.System) {
	t.Helper()
	if s.Rank() != len(oracle.rows) {
		t.Fatalf("rank %d, want %d", s.Rank(), len(oracle.rows))
	}
	for _, p := range oracle.lead {
		shares, err := s.Row(p)
		if err != nil {
			t.Fatal(err)
		}
		got := make(map[int]string)
		for _, e := range shares {
			got[e.Column] = e.Coef.String()
		}
		want := make(map[int]string)
		for c, x := range oracle.row(p) {
			if x.Sign() != 0 {
				want[c] = x.RatString()
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("row of pivot %d: %s", p, diff)
		}
	}
}

// The reduced form is unique: neither the order of the rows nor the way of
// elimination changes any answer.
func TestRowOrderChangesNothing(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(12, 61))
	for range 40 {
		columns := 20 + rng.IntN(60)
		rows := randomRows(rng, columns, columns*2/3+rng.IntN(columns/2))
		want := answers(t, eliminate(t, columns, rows))
		rng.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
		if diff := cmp.Diff(want, answers(t, build(t, columns, rows))); diff != "" {
			t.Fatal(diff)
		}
		half := len(rows) / 2
		mixed := eliminate(t, columns, rows[:half])
		for _, row := range rows[half:] {
			if _, err := mixed.Add(row); err != nil {
				t.Fatal(err)
			}
		}
		if diff := cmp.Diff(want, answers(t, mixed)); diff != "" {
			t.Fatal(diff)
		}
	}
}

func answers(t *testing.T, s *exact.System) [][]exact.Share {
	t.Helper()
	out := make([][]exact.Share, s.Columns())
	for c := range out {
		shares, err := s.OnlyWith(c)
		if errors.Is(err, exact.ErrNotSmall) {
			// A marker no answer looks like: both ways must meet it.
			shares = []exact.Share{{Column: -1}}
		} else if err != nil {
			t.Fatal(err)
		}
		out[c] = shares
	}
	return out
}

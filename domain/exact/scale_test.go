package exact_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"delaybook/domain/exact"
)

// chains draws a book's rows as they grow in practice: sites of 30 latencies,
// rows of 2 to 12 of them, a quarter of the places taken by one of the popular
// latencies that every site uses. The columns are named without regard to the
// site, as a list sorted by name is.
func chains(columns, rows int) [][]exact.Term {
	rng := rand.New(rand.NewPCG(uint64(columns), uint64(rows)))
	name := rng.Perm(columns)
	popular := max(4, columns/100)
	out := make([][]exact.Term, rows)
	for i := range out {
		site := rng.IntN(max(1, columns/30)) * 30
		length := 2 + rng.IntN(11)
		for k := range length {
			at := site + rng.IntN(min(30, columns-site))
			if rng.IntN(4) == 0 {
				at = rng.IntN(popular)
			}
			coef := int64(1)
			if k >= length/2 {
				coef = -1
			}
			out[i] = append(out[i], exact.Term{Column: name[at], Coef: coef})
		}
	}
	return out
}

func BenchmarkEliminate(b *testing.B) {
	for _, columns := range []int{300, 3_000, 30_000} {
		for _, percent := range []int{60, 90, 110, 150} {
			rows := chains(columns, columns*percent/100)
			b.Run(fmt.Sprintf("columns=%d/rows=%d%%", columns, percent), func(b *testing.B) {
				for b.Loop() {
					s, err := exact.Eliminate(columns, rows)
					if err != nil {
						b.Fatal(err)
					}
					b.ReportMetric(float64(s.Rank()), "rank")
				}
			})
		}
	}
}

func BenchmarkAddOneRow(b *testing.B) {
	rows := chains(30_000, 45_000)
	s, err := exact.Eliminate(30_000, rows[:44_000])
	if err != nil {
		b.Fatal(err)
	}
	for i := 0; b.Loop(); i++ {
		if _, err := s.Add(rows[44_000+i%1_000]); err != nil {
			b.Fatal(err)
		}
	}
}

package sparse_test

import (
	"math/rand/v2"
	"testing"

	"delaybook/domain/sparse"
)

// book draws the normal equations of a book: latencies with a weak prior and
// two units each, rigs that join 2 to 12 of them at one site, a quarter of the
// places taken by a popular model, several measurements a rig.
func book(tb testing.TB, unknowns int, clustered bool) (*sparse.Symmetric, [][]int) {
	tb.Helper()
	rng := rand.New(rand.NewPCG(uint64(unknowns), 7))
	models := unknowns / 3
	b, err := sparse.NewBuilder(unknowns)
	if err != nil {
		tb.Fatal(err)
	}
	add := func(i, j int, v float64) {
		if err := b.Add(i, j, v); err != nil {
			tb.Fatal(err)
		}
	}
	for i := range unknowns {
		add(i, i, 1)
	}
	const site = 30
	popular := max(4, models/100)
	rigs := make([][]int, models*3/2)
	for r := range rigs {
		at := rng.IntN(max(1, models/site)) * site
		row := make(map[int]float64)
		length := 2 + rng.IntN(9)
		for k := range length {
			model := at + rng.IntN(min(site, models-at))
			if rng.IntN(4) == 0 {
				model = rng.IntN(popular)
			}
			if !clustered {
				model = rng.IntN(models)
			}
			sign := 1 - 2*float64(k%2)
			row[model] += sign
			row[models+2*model+rng.IntN(2)] += sign
		}
		weight := 0.1 + rng.Float64()
		for i, x := range row {
			rigs[r] = append(rigs[r], i)
			for j, y := range row {
				if j <= i {
					add(i, j, weight*x*y)
				}
			}
		}
	}
	m, err := b.Build()
	if err != nil {
		tb.Fatal(err)
	}
	return m, rigs
}

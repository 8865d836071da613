package plan

import (
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// steppedVariable is a random control: an optional engaging delay, a value in force or none.
func steppedVariable(rng *rand.Rand) *variable {
	n, step := 3+rng.IntN(9), int64(1+rng.IntN(4))
	vals := []int64{0}
	for k := 1; k < n; k++ {
		vals = append(vals, vals[k-1]+step)
	}
	if jump := int64(rng.IntN(4)); jump > 0 {
		for k := 1; k < n; k++ {
			vals[k] += jump
		}
	}
	v := &variable{grid: newGrid(vals), changed: free, offMin: except(0)}
	if rng.IntN(2) == 0 {
		v.changed = except(rng.IntN(n))
	}
	return v
}

// Sliding windows find the same table as all products; the internals are the point here, because
// the tables they are for are too long to try every setting of.
func TestSlidingWindowsEqualProducts(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 14))
	for round := range 3000 {
		products, windows := firstTable(steppedVariable(rng)), []sumEntry(nil)
		windows = append(windows, products...)
		for range 1 + rng.IntN(3) {
			v := steppedVariable(rng)
			if !v.grid.stepped() {
				t.Fatalf("round %d: %v is in steps", round, v.grid.vals)
			}
			byProducts := collect(products, func(offer func(i, k int)) {
				for i := range products {
					for k := range v.grid.vals {
						offer(i, k)
					}
				}
			}, v)
			byWindows := collect(windows, func(offer func(i, k int)) {
				if !joinStepped(windows, v, offer) {
					t.Fatalf("round %d: too large", round)
				}
			}, v)
			if diff := cmp.Diff(byProducts, byWindows, cmp.AllowUnexported(sumEntry{})); diff != "" {
				t.Fatalf("round %d: -products +windows\n%s", round, diff)
			}
			products, windows = byProducts, byWindows
		}
	}
}

// A table that would be too long is refused, and the group stays apart.
func TestLongTablesAreRefused(t *testing.T) {
	t.Parallel()
	vals := make([]int64, maxTable)
	for k := range vals {
		vals[k] = int64(2 * k)
	}
	v := &variable{grid: newGrid(vals), changed: free, offMin: except(0)}
	if got := joinTable(firstTable(v), v); got != nil {
		t.Errorf("a table of %d sums was made", len(got))
	}
}

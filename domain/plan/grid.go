package plan

import (
	"math/big"
	"sort"
)

// A grid is the sorted list of delays a control (or a group of them) can give, ticks.
type grid struct {
	vals []int64
	// gcds[i] is the greatest common divisor of the differences from i to the end: the lattice of
	// the sums once everything below i is excluded. An engaging delay drops out with the 0.
	gcds []int64
}

func newGrid(vals []int64) *grid {
	g := &grid{vals: vals, gcds: make([]int64, len(vals))}
	for i := len(vals) - 2; i >= 0; i-- {
		g.gcds[i] = gcd(g.gcds[i+1], vals[i+1]-vals[i])
	}
	return g
}

// from is the first index in [lo, hi] whose delay is at least v, or hi+1.
func (g *grid) from(v int64, lo, hi int) int {
	return lo + sort.Search(hi+1-lo, func(i int) bool { return g.vals[lo+i] >= v })
}

// to is the last index in [lo, hi] whose delay is at most v, or lo-1.
func (g *grid) to(v int64, lo, hi int) int {
	return lo + sort.Search(hi+1-lo, func(i int) bool { return g.vals[lo+i] > v }) - 1
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	if a < 0 {
		return -a
	}
	return a
}

// A ruler is the exact description of a control's grid: count delays of unit*(min + k step), plus
// engaged where the value is not 0.
type ruler struct {
	unit, min, step, engaged *big.Rat
	count                    int
}

// delay is the delay at a value, ticks.
func (r ruler) delay(value *big.Rat) int64 {
	ms := new(big.Rat).Mul(r.unit, value)
	if value.Sign() != 0 {
		ms.Add(ms, r.engaged)
	}
	ticks, _ := toTicks(ms)
	return ticks
}

// delays lists the first n delays. Where every step is a whole number of ticks, as for all broadcast
// rates, the list is a sum of integers; else each delay is rounded on its own, so errors do not add.
func (r ruler) delays(n int) []int64 {
	vals := make([]int64, n)
	perTick := big.NewRat(TicksPerMS, 1)
	inc := new(big.Rat).Mul(new(big.Rat).Mul(r.unit, r.step), perTick)
	value := new(big.Rat).Set(r.min)
	exact := inc.IsInt()
	for k := range vals {
		if exact && k > 1 {
			vals[k] = vals[k-1] + inc.Num().Int64()
			continue
		}
		vals[k] = r.delay(value)
		value = new(big.Rat).Add(value, r.step)
	}
	return vals
}

// key tells rulers apart, so that controls of one kind share a grid.
func (r ruler) key() string {
	return r.unit.RatString() + " " + r.min.RatString() + " " + r.step.RatString() + " " + r.engaged.RatString()
}

package plan

// A variable of a decision: one control, or several controls of equal incidence that only their
// sum tells apart for every row.
type variable struct {
	grid    *grid
	changed cost
	offMin  cost
	members []int   // controls, in list order
	pick    [][]int // merged only: pick[i] is the members' grid indexes at grid.vals[i]
}

// set writes the members' grid indexes at variable index i into an assignment of controls.
func (v *variable) set(at []int, i int) {
	if v.pick == nil {
		at[v.members[0]] = i
		return
	}
	for m, c := range v.members {
		at[c] = v.pick[i][m]
	}
}

// single is the variable of one control.
func single(r *rig, c int) *variable {
	ctl := &r.controls[c]
	v := &variable{grid: ctl.grid, members: []int{c}, changed: free, offMin: except(0)}
	if ctl.recorded && ctl.now >= 0 {
		v.changed = except(ctl.now)
	}
	return v
}

// A cost is a small count per grid index.
type cost struct {
	zero int // the only index that costs 0, the others cost 1; everyIndex: all cost 0
	// tree is a table instead: a binary tree of minima whose leaves, from len(tree)/2, are the costs.
	tree []uint8
}

const everyIndex = -1

var free = cost{zero: everyIndex}

func except(zero int) cost { return cost{zero: zero} }

// table is the cost with these values.
func table(values []uint8) cost {
	n := len(values)
	tree := make([]uint8, 2*n)
	copy(tree[n:], values)
	for i := n - 1; i > 0; i-- {
		tree[i] = min(tree[2*i], tree[2*i+1])
	}
	return cost{zero: everyIndex, tree: tree}
}

// at is the cost of one index.
func (c cost) at(i int) int {
	if c.tree != nil {
		return int(c.tree[len(c.tree)/2+i])
	}
	if c.zero == everyIndex || c.zero == i {
		return 0
	}
	return 1
}

// least is the smallest cost in [lo, hi].
func (c cost) least(lo, hi int) int {
	if c.tree == nil {
		if c.zero == everyIndex || (lo <= c.zero && c.zero <= hi) {
			return 0
		}
		return 1
	}
	best := uint8(255)
	n := len(c.tree) / 2
	for l, r := lo+n, hi+n+1; l < r; l, r = l/2, r/2 {
		if l&1 == 1 {
			best = min(best, c.tree[l])
			l++
		}
		if r&1 == 1 {
			r--
			best = min(best, c.tree[r])
		}
	}
	return int(best)
}

// within narrows [lo, hi] to end at indexes that cost at most most; empty (lo > hi) when none does.
func (c cost) within(lo, hi, most int) (int, int) {
	if c.tree == nil {
		if most >= 1 || c.zero == everyIndex {
			return lo, hi
		}
		if c.zero < lo || c.zero > hi {
			return 1, 0
		}
		return c.zero, c.zero
	}
	if c.least(lo, hi) > most {
		return 1, 0
	}
	for c.at(lo) > most {
		lo++
	}
	for c.at(hi) > most {
		hi--
	}
	return lo, hi
}

// cheapest is the first index in [lo, hi] with the least cost.
func (c cost) cheapest(lo, hi int) int {
	if c.tree == nil {
		if lo <= c.zero && c.zero <= hi {
			return c.zero
		}
		return lo
	}
	least := c.least(lo, hi)
	for c.at(lo) > least {
		lo++
	}
	return lo
}

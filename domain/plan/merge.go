package plan

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// maxTable is the most sums a merged table may hold, and the most products it may take to build where
// sums are not in steps; controls stay apart beyond it, which gives the same plan.
const maxTable = 100_000

// A group is the controls of equal incidence: same signal, same pairs, same feeds.
type group struct {
	signal  Signal
	members []int       // controls, in list order
	vars    []*variable // one when merged, else one per member
}

// groups sorts the movable controls that act on anything into groups, in the order of their first
// control. Controls that act on no counted pair and no feed are in none.
func groups(r *rig, movable func(c int) bool) []*group {
	incidence := make([]strings.Builder, len(r.controls))
	mark := func(c int, kind byte, i int) {
		incidence[c].WriteByte(kind)
		incidence[c].WriteString(strconv.Itoa(i))
	}
	for i := range r.pairs {
		if !r.pairs[i].counts() {
			continue
		}
		for _, c := range r.pairs[i].picture {
			mark(c, 'p', i)
		}
		for _, c := range r.pairs[i].sound {
			mark(c, 'p', i)
		}
	}
	for i := range r.feeds {
		for _, c := range r.feeds[i].controls {
			mark(c, 'f', i)
		}
	}
	byKey := map[string]*group{}
	var out []*group
	for c := range r.controls {
		if incidence[c].Len() == 0 || !movable(c) {
			continue
		}
		key := string(r.controls[c].signal) + incidence[c].String()
		if byKey[key] == nil {
			byKey[key] = &group{signal: r.controls[c].signal}
			out = append(out, byKey[key])
		}
		byKey[key].members = append(byKey[key].members, c)
	}
	for _, g := range out {
		g.vars = merge(r, g.members)
	}
	return out
}

// merge is the group's members as one variable, or one each when the table would be too large.
func merge(r *rig, members []int) []*variable {
	first := single(r, members[0])
	if len(members) == 1 {
		return []*variable{first}
	}
	tables := [][]sumEntry{firstTable(first)}
	for _, c := range members[1:] {
		next := joinTable(tables[len(tables)-1], single(r, c))
		if next == nil || len(members) > 200 {
			out := make([]*variable, len(members))
			for i, c := range members {
				out[i] = single(r, c)
			}
			return out
		}
		tables = append(tables, next)
	}
	return []*variable{fromTables(members, tables)}
}

// A sumEntry is the best way to reach one sum with the members so far: fewest changed, then fewest
// off their minimum, then the earliest members largest.
type sumEntry struct {
	sum             int64
	changed, offMin uint8
	from, k         int // entry of the table before, grid index of the last member
	rank            int // of all the members' indexes, in lexicographic order among the entries
}

// better orders two entries of one sum, the better first. prior is the table before.
func (x sumEntry) better(y sumEntry, prior []sumEntry) int {
	return cmp.Or(cmp.Compare(x.changed, y.changed), cmp.Compare(x.offMin, y.offMin),
		cmp.Compare(prior[y.from].rank, prior[x.from].rank), cmp.Compare(y.k, x.k))
}

func firstTable(v *variable) []sumEntry {
	out := make([]sumEntry, len(v.grid.vals))
	for k, d := range v.grid.vals {
		out[k] = sumEntry{sum: d, changed: uint8(v.changed.at(k)), offMin: uint8(v.offMin.at(k)), k: k, rank: k}
	}
	return out
}

// joinTable joins one more member, sorted by sum; nil when the table would be too large.
func joinTable(prior []sumEntry, v *variable) []sumEntry {
	products := len(prior)*len(v.grid.vals) < maxTable
	if !products && !v.grid.stepped() {
		return nil
	}
	fits := true
	table := collect(prior, func(offer func(i, k int)) {
		if !products {
			fits = joinStepped(prior, v, offer)
			return
		}
		for i := range prior {
			for k := range v.grid.vals {
				offer(i, k)
			}
		}
	}, v)
	if !fits {
		return nil
	}
	return table
}

// collect keeps the best of the offers for each sum: prior entry i with the member's grid index k.
func collect(prior []sumEntry, offers func(offer func(i, k int)), v *variable) []sumEntry {
	best := map[int64]sumEntry{}
	offers(func(i, k int) {
		s := prior[i]
		x := sumEntry{
			sum: s.sum + v.grid.vals[k], changed: s.changed + uint8(v.changed.at(k)), offMin: s.offMin + uint8(v.offMin.at(k)),
			from: i, k: k,
		}
		if y, ok := best[x.sum]; !ok || x.better(y, prior) < 0 {
			best[x.sum] = x
		}
	})
	out := make([]sumEntry, 0, len(best))
	for _, x := range best {
		out = append(out, x)
	}
	slices.SortFunc(out, func(x, y sumEntry) int {
		return cmp.Or(cmp.Compare(prior[x.from].rank, prior[y.from].rank), cmp.Compare(x.k, y.k))
	})
	for rank := range out {
		out[rank].rank = rank
	}
	slices.SortFunc(out, func(x, y sumEntry) int { return cmp.Compare(x.sum, y.sum) })
	return out
}

// fromTables is the variable of the last table.
func fromTables(members []int, tables [][]sumEntry) *variable {
	last := tables[len(tables)-1]
	v := &variable{members: members, pick: make([][]int, len(last))}
	vals, changed, offMin := make([]int64, len(last)), make([]uint8, len(last)), make([]uint8, len(last))
	flat := make([]int, len(last)*len(members))
	for i, s := range last {
		vals[i], changed[i], offMin[i] = s.sum, s.changed, s.offMin
		v.pick[i], flat = flat[:len(members):len(members)], flat[len(members):]
		at := i
		for m := len(members) - 1; m >= 0; m-- {
			v.pick[i][m] = tables[m][at].k
			at = tables[m][at].from
		}
	}
	v.grid, v.changed, v.offMin = newGrid(vals), table(changed), table(offMin)
	return v
}

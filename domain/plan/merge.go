package plan

import (
	"cmp"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// maxTable is the most products a merged table may take to build; controls stay apart beyond it,
// which gives the same plan.
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
	sums := singles(r, members[0])
	for _, c := range members[1:] {
		ctl := &r.controls[c]
		if sums == nil || len(sums)*len(ctl.grid.vals) >= maxTable || len(members) > 200 {
			sums = nil
			break
		}
		sums = extend(sums, r, c)
	}
	if len(members) == 1 || sums == nil {
		out := make([]*variable, len(members))
		for i, c := range members {
			out[i] = single(r, c)
		}
		return out
	}
	return []*variable{fromSums(members, sums)}
}

// A sumEntry is the best way to reach one sum with the members so far: fewest changed, then fewest
// off their minimum, then the earliest members largest.
type sumEntry struct {
	sum             int64
	changed, offMin uint8
	pick            []int
	rank            int // of pick in lexicographic order among the entries
}

func singles(r *rig, c int) []sumEntry {
	v := single(r, c)
	out := make([]sumEntry, len(v.grid.vals))
	for k, d := range v.grid.vals {
		out[k] = sumEntry{sum: d, changed: uint8(v.changed.at(k)), offMin: uint8(v.offMin.at(k)), pick: []int{k}, rank: k}
	}
	return out
}

// extend joins one more member: every sum with every delay, the best per new sum kept.
func extend(sums []sumEntry, r *rig, c int) []sumEntry {
	v := single(r, c)
	type candidate struct {
		sum             int64
		changed, offMin uint8
		from, k         int
	}
	best := make(map[int64]candidate, len(sums)+len(v.grid.vals))
	for i, s := range sums {
		for k, d := range v.grid.vals {
			x := candidate{s.sum + d, s.changed + uint8(v.changed.at(k)), s.offMin + uint8(v.offMin.at(k)), i, k}
			y, ok := best[x.sum]
			better := cmp.Or(cmp.Compare(x.changed, y.changed), cmp.Compare(x.offMin, y.offMin),
				cmp.Compare(sums[y.from].rank, s.rank), cmp.Compare(y.k, k))
			if !ok || better < 0 {
				best[x.sum] = x
			}
		}
	}
	out := make([]sumEntry, 0, len(best))
	order := make([]candidate, 0, len(best))
	for _, x := range best {
		order = append(order, x)
	}
	slices.SortFunc(order, func(x, y candidate) int {
		return cmp.Or(cmp.Compare(sums[x.from].rank, sums[y.from].rank), cmp.Compare(x.k, y.k))
	})
	for rank, x := range order {
		pick := append(append(make([]int, 0, len(sums[x.from].pick)+1), sums[x.from].pick...), x.k)
		out = append(out, sumEntry{x.sum, x.changed, x.offMin, pick, rank})
	}
	return out
}

func fromSums(members []int, sums []sumEntry) *variable {
	sort.Slice(sums, func(i, j int) bool { return sums[i].sum < sums[j].sum })
	v := &variable{members: members}
	vals, changed, offMin := make([]int64, len(sums)), make([]uint8, len(sums)), make([]uint8, len(sums))
	for i, s := range sums {
		vals[i], changed[i], offMin[i] = s.sum, s.changed, s.offMin
		v.pick = append(v.pick, s.pick)
	}
	v.grid, v.changed, v.offMin = newGrid(vals), table(changed), table(offMin)
	return v
}

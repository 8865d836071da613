package plan

import "cmp"

// stepped says whether the delays from the second on are in equal steps (the first may be off the
// line, where engaging adds to the others).
func (g *grid) stepped() bool {
	n := len(g.vals)
	return n > 2 && g.vals[n-1]-g.vals[1] == g.gcds[1]*int64(n-2)
}

// joinStepped offers for every sum what can be best in it, without all products. A delay of the new
// member costs the same wherever it is, but at the minimum and at the value in force. Those two are
// offered with every prior sum. Of the others, all that make a sum differ only by their prior sum,
// and these lie in a window that slides with the sum, so the best of a window is kept as it slides.
// It says whether the table stays below maxTable.
func joinStepped(prior []sumEntry, v *variable, offer func(i, k int)) bool {
	special := map[int]bool{0: true, 1: true}
	if v.changed.zero != everyIndex {
		special[v.changed.zero] = true
	}
	step := v.grid.gcds[1]
	byResidue := map[int64][]int{}
	span := int64(0)
	for i, s := range prior {
		for k := range special {
			offer(i, k)
		}
		residue := s.sum % step
		if same := byResidue[residue]; len(same) == 0 {
			span += int64(len(v.grid.vals)) + int64(len(special))
		} else {
			span += min(int64(len(v.grid.vals)), (s.sum-prior[same[len(same)-1]].sum)/step)
		}
		byResidue[residue] = append(byResidue[residue], i)
		if span >= maxTable {
			return false
		}
	}
	for _, class := range byResidue {
		slide(prior, class, v.grid, step, offer)
	}
	return true
}

// slide walks the sums that one residue class of prior entries (ascending) makes with the stepped
// delays, and offers the best prior entry of each.
func slide(prior []sumEntry, class []int, g *grid, step int64, offer func(i, k int)) {
	last := len(g.vals) - 1
	better := func(i, j int) bool {
		return cmp.Or(cmp.Compare(prior[i].changed, prior[j].changed), cmp.Compare(prior[i].offMin, prior[j].offMin),
			cmp.Compare(prior[j].rank, prior[i].rank)) <= 0
	}
	var window []int // entries that are best from some sum on, best first
	next := 0
	for sum := prior[class[0]].sum + g.vals[1]; ; sum += step {
		for ; next < len(class) && prior[class[next]].sum <= sum-g.vals[1]; next++ {
			for len(window) > 0 && better(class[next], window[len(window)-1]) {
				window = window[:len(window)-1]
			}
			window = append(window, class[next])
		}
		for len(window) > 0 && prior[window[0]].sum < sum-g.vals[last] {
			window = window[1:]
		}
		if len(window) > 0 {
			offer(window[0], 1+int((sum-prior[window[0]].sum-g.vals[1])/step))
		} else if next == len(class) {
			return
		} else {
			sum = prior[class[next]].sum + g.vals[1] - step
		}
	}
}

package sparse

// lower is the pattern of the lower triangle of the matrix in elimination
// order, by columns, with the place of each entry in the caller's matrix.
type lower struct {
	start []int32
	row   []int32
	place []int32
}

// permute renumbers the pattern of m: rank[i] is when unknown i is eliminated.
// Rows within a column come in no order.
func permute(m *Symmetric, rank []int32) lower {
	p := lower{
		start: make([]int32, m.n+1),
		row:   make([]int32, len(m.row)),
		place: make([]int32, len(m.row)),
	}
	each := func(visit func(row, column, place int32)) {
		for j := range m.n {
			for at := m.start[j]; at < m.start[j+1]; at++ {
				a, b := rank[m.row[at]], rank[j]
				visit(max(a, b), min(a, b), at)
			}
		}
	}
	each(func(_, column, _ int32) { p.start[column+1]++ })
	for j := range m.n {
		p.start[j+1] += p.start[j]
	}
	next := append([]int32(nil), p.start...)
	each(func(row, column, place int32) {
		p.row[next[column]], p.place[next[column]] = row, place
		next[column]++
	})
	return p
}

// transpose lists, for each row, its columns left of the diagonal.
func (p lower) transpose() (start, column []int32) {
	n := len(p.start) - 1
	start = make([]int32, n+1)
	for j := range int32(n) {
		for _, i := range p.row[p.start[j]:p.start[j+1]] {
			if i != j {
				start[i+1]++
			}
		}
	}
	for i := range n {
		start[i+1] += start[i]
	}
	column = make([]int32, start[n])
	next := append([]int32(nil), start...)
	for j := range int32(n) {
		for _, i := range p.row[p.start[j]:p.start[j+1]] {
			if i != j {
				column[next[i]] = j
				next[i]++
			}
		}
	}
	return start, column
}

// eliminationTree gives each column its parent, the row of its first entry
// below the diagonal of the factor, or -1 (Liu, "The role of elimination trees
// in sparse factorization", SIAM J. Matrix Anal. Appl. 11, 1990).
func eliminationTree(start, column []int32) []int32 {
	n := int32(len(start) - 1)
	parent, ancestor := make([]int32, n), make([]int32, n)
	for i := range n {
		parent[i], ancestor[i] = -1, -1
		for _, j := range column[start[i]:start[i+1]] {
			for j >= 0 && j < i {
				next := ancestor[j]
				ancestor[j] = i
				if next < 0 {
					parent[j] = i
				}
				j = next
			}
		}
	}
	return parent
}

// postorder lists the columns so that each subtree is contiguous and children
// come before parents. Children keep their order.
func postorder(parent []int32) []int32 {
	n := int32(len(parent))
	first, sibling := make([]int32, n), make([]int32, n)
	for j := range n {
		first[j] = -1
	}
	var roots []int32
	for j := n - 1; j >= 0; j-- {
		if p := parent[j]; p >= 0 {
			sibling[j], first[p] = first[p], j
		} else {
			roots = append(roots, j)
		}
	}
	out := make([]int32, 0, n)
	stack := roots // the last root was seen first: it is on top
	for len(stack) > 0 {
		j := stack[len(stack)-1]
		if c := first[j]; c >= 0 {
			first[j] = sibling[c]
			stack = append(stack, c)
			continue
		}
		stack = stack[:len(stack)-1]
		out = append(out, j)
	}
	return out
}

// columnCounts is the number of entries of each column of the factor with its
// diagonal. Row i of the factor is the part of the tree between the entries of
// row i of the matrix and i itself.
func columnCounts(start, column, parent []int32) []int32 {
	n := int32(len(parent))
	count, seen := make([]int32, n), make([]int32, n)
	for i := range n {
		count[i]++
		seen[i] = i
		for _, j := range column[start[i]:start[i+1]] {
			for seen[j] != i {
				seen[j] = i
				count[j]++
				j = parent[j]
			}
		}
	}
	return count
}

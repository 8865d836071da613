package sparse

import (
	"cmp"
	"math"
	"slices"
)

// MinimumDegree orders the unknowns so that elimination fills in few places:
// order[k] is the unknown eliminated k-th. It is the approximate minimum
// degree algorithm on a quotient graph, with approximate external degrees,
// aggressive absorption, mass elimination and merging of indistinguishable
// unknowns (Amestoy, Davis and Duff, "An approximate minimum degree ordering
// algorithm", SIAM J. Matrix Anal. Appl. 17, 1996). Unknowns joined to more
// than 10 sqrt(n) others come last. The order depends on the pattern only.
func MinimumDegree(m *Symmetric) []int {
	q := newQuotient(m)
	for q.left > 0 {
		q.eliminate(q.least())
	}
	for i, is := range q.dense {
		if is {
			q.order = append(q.order, i)
		}
	}
	return q.order
}

// quotient is the elimination graph in compact form: an eliminated unknown is
// an element that stands for the clique of its members.
type quotient struct {
	vars   [][]int32 // neighbours of an unknown by entries of the matrix
	elems  [][]int32 // elements that contain an unknown
	member [][]int32 // unknowns of an element
	alive  []bool    // elements not yet absorbed
	size   []int32   // weight of an element
	weight []int32   // unknowns that stand behind one; 0 once gone or merged
	merged [][]int32 // unknowns merged into one
	degree []int32
	dense  []bool
	lists  buckets
	order  []int
	left   int32

	step    int32   // stamps below are valid in the step that wrote them
	within  []int32 // stamp: the unknown is in the pivot's clique
	counted []int32 // stamp: outside is valid
	outside []int32 // weight of an element outside the pivot's clique
	marked  []int32 // stamp of comparisons
	mark    int32
	reach   []int32 // weight of what an unknown of the clique meets outside it
	hashed  []hashed
}

// hashed is an unknown of the clique and a hash of its lists.
type hashed struct {
	hash    uint32
	unknown int32
}

func newQuotient(m *Symmetric) *quotient {
	n := m.n
	q := &quotient{
		vars: make([][]int32, n), elems: make([][]int32, n), member: make([][]int32, n),
		alive: make([]bool, n), size: make([]int32, n), weight: make([]int32, n),
		merged: make([][]int32, n), degree: make([]int32, n), dense: make([]bool, n),
		lists: newBuckets(n), order: make([]int, 0, n),
		within: make([]int32, n), counted: make([]int32, n), outside: make([]int32, n),
		marked: make([]int32, n), reach: make([]int32, n),
	}
	for j := range int32(n) {
		for _, i := range m.row[m.start[j]:m.start[j+1]] {
			if i != j {
				q.degree[i]++
				q.degree[j]++
			}
		}
	}
	limit := int32(max(16, 10*math.Sqrt(float64(n))))
	for i, d := range q.degree {
		q.dense[i] = d > limit
	}
	q.connect(m)
	return q
}

// connect fills the adjacency lists of the unknowns that are not dense.
func (q *quotient) connect(m *Symmetric) {
	for i, d := range q.degree {
		if !q.dense[i] {
			q.vars[i] = make([]int32, 0, d)
		}
	}
	for j := range int32(m.n) {
		for _, i := range m.row[m.start[j]:m.start[j+1]] {
			if i != j && !q.dense[i] && !q.dense[j] {
				q.vars[i] = append(q.vars[i], j)
				q.vars[j] = append(q.vars[j], i)
			}
		}
	}
	for i := range m.n {
		if q.dense[i] {
			continue
		}
		q.left++
		q.weight[i] = 1
		q.degree[i] = int32(len(q.vars[i]))
		q.lists.push(int32(i), q.degree[i])
	}
}

func (q *quotient) least() int32 { return q.lists.least() }

// eliminate makes unknown p an element and brings its neighbours up to date.
func (q *quotient) eliminate(p int32) {
	q.step++
	q.lists.remove(p, q.degree[p])
	q.emit(p)
	clique := q.clique(p)
	var total int32
	for _, i := range clique {
		total += q.weight[i]
		q.lists.remove(i, q.degree[i])
	}
	q.countOutside(clique)
	for _, i := range clique {
		reach, hash := q.prune(i, p)
		if len(q.elems[i]) == 1 && len(q.vars[i]) == 0 {
			total -= q.weight[i] // only p is left around i: it goes with p
			q.emit(i)
			continue
		}
		q.reach[i] = reach
		q.hashed = append(q.hashed, hashed{hash, i})
	}
	q.mergeEqual()
	q.finish(p, clique, total)
}

// emit puts an unknown, and those merged into it, next in the order.
func (q *quotient) emit(i int32) {
	q.left -= q.weight[i]
	q.weight[i] = 0
	stack := []int32{i}
	for len(stack) > 0 {
		k := stack[len(stack)-1]
		stack = append(stack[:len(stack)-1], q.merged[k]...)
		q.order = append(q.order, int(k))
	}
}

// clique lists the unknowns that the elimination of p joins, and absorbs p's
// elements: the new one covers them.
func (q *quotient) clique(p int32) []int32 {
	var out []int32
	add := func(list []int32) {
		for _, i := range list {
			if q.weight[i] > 0 && q.within[i] != q.step {
				q.within[i] = q.step
				out = append(out, i)
			}
		}
	}
	add(q.vars[p])
	for _, e := range q.elems[p] {
		if q.alive[e] {
			add(q.member[e])
			q.absorb(e)
		}
	}
	q.vars[p], q.elems[p] = nil, nil
	return out
}

func (q *quotient) absorb(e int32) {
	q.alive[e] = false
	q.member[e] = nil
}

// countOutside finds, for every element that meets the clique, the weight of
// its members outside.
func (q *quotient) countOutside(clique []int32) {
	for _, i := range clique {
		for _, e := range q.elems[i] {
			if !q.alive[e] {
				continue
			}
			if q.counted[e] != q.step {
				q.counted[e] = q.step
				q.outside[e] = q.size[e]
			}
			q.outside[e] -= q.weight[i]
		}
	}
}

// prune drops from the lists of i what the new element p covers, puts p in,
// and returns the weight of what i meets outside the clique and a hash of the
// lists.
func (q *quotient) prune(i, p int32) (outside int32, hash uint32) {
	kept := q.elems[i][:0]
	for _, e := range q.elems[i] {
		switch {
		case !q.alive[e]:
		case q.outside[e] == 0:
			q.absorb(e)
		default:
			kept = append(kept, e)
			outside += q.outside[e]
			hash += uint32(e)
		}
	}
	q.elems[i] = append(kept, p)
	vars := q.vars[i][:0]
	for _, v := range q.vars[i] {
		if q.weight[v] > 0 && q.within[v] != q.step {
			vars = append(vars, v)
			outside += q.weight[v]
			hash += uint32(v)
		}
	}
	q.vars[i] = vars
	return outside, hash
}

// mergeEqual joins unknowns of the clique with equal lists: they stay equal to
// the end, so one stands for all.
func (q *quotient) mergeEqual() {
	slices.SortFunc(q.hashed, func(a, b hashed) int {
		return cmp.Or(cmp.Compare(a.hash, b.hash), cmp.Compare(a.unknown, b.unknown))
	})
	for group := q.hashed; len(group) > 0; {
		end := 1
		for end < len(group) && group[end].hash == group[0].hash {
			end++
		}
		for a, h := range group[:end-1] {
			if q.weight[h.unknown] > 0 {
				q.mergeInto(h.unknown, group[a+1:end])
			}
		}
		group = group[end:]
	}
	q.hashed = q.hashed[:0]
}

func (q *quotient) mergeInto(i int32, others []hashed) {
	q.mark++
	for _, list := range [][]int32{q.elems[i], q.vars[i]} {
		for _, v := range list {
			q.marked[v] = q.mark
		}
	}
	for _, h := range others {
		j := h.unknown
		if q.weight[j] > 0 && q.equal(i, j) {
			q.weight[i] += q.weight[j]
			q.weight[j] = 0
			q.merged[i] = append(q.merged[i], j)
			q.vars[j], q.elems[j] = nil, nil
		}
	}
}

// equal reports whether the lists of j are those of i, which are marked. An
// element and an unknown never share a number among live list entries.
func (q *quotient) equal(i, j int32) bool {
	if len(q.elems[i]) != len(q.elems[j]) || len(q.vars[i]) != len(q.vars[j]) {
		return false
	}
	unmarked := func(v int32) bool { return q.marked[v] != q.mark }
	return !slices.ContainsFunc(q.elems[j], unmarked) && !slices.ContainsFunc(q.vars[j], unmarked)
}

// finish gives the clique to the element p and its unknowns their new degrees.
func (q *quotient) finish(p int32, clique []int32, total int32) {
	members := clique[:0]
	for _, i := range clique {
		if q.weight[i] == 0 {
			continue
		}
		members = append(members, i)
		inside := total - q.weight[i]
		q.degree[i] = min(q.degree[i]+inside, q.reach[i]+inside, q.left-q.weight[i])
		q.lists.push(i, q.degree[i])
	}
	if len(members) > 0 {
		q.member[p], q.size[p], q.alive[p] = slices.Clip(members), total, true
	}
}

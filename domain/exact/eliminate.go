package exact

import "fmt"

// Eliminate returns the form of all rows at once. The result equals that of
// adding them one by one; the way there is much shorter for a big system,
// because the pivots are first taken where they cause least fill and only then
// exchanged for the leftmost ones.
//
// Time and memory follow the entries of the form on the way. Rigs that cluster
// by site stay sparse: 30,000 columns take half a second. Chains drawn at
// random from 3,000 devices fill in completely and take a quarter of a minute.
//
// The exchange works on the null space. Its vectors, one per free column, hold
// as few entries as the free columns have users. The columns without a pivot
// in the leftmost form are those with a pivot in the rightmost form of the
// null space, and the entries of the two forms differ only in sign.
func Eliminate(columns int, rows [][]Term) (*System, error) {
	s, err := New(columns)
	if err != nil {
		return nil, err
	}
	active := make([]vector, len(rows))
	for i, row := range rows {
		if active[i], err = s.vector(row); err != nil {
			return nil, fmt.Errorf("row %d: %w", i, err)
		}
	}
	w := newWorkings(columns, active)
	w.forward()
	w.backward()
	return leftmost(columns, w.null()), nil
}

// leftmost turns a basis of the null space into the leftmost form.
func leftmost(columns int, null []vector) *System {
	mirror, _ := New(columns)
	last := int32(columns - 1)
	for _, v := range null {
		m := make(vector, len(v))
		for i, e := range v {
			m[len(v)-1-i] = cell{last - e.column, e.value}
		}
		mirror.insert(m)
	}
	s, _ := New(columns)
	for c := range int32(columns) {
		s.pivot[c] = !mirror.pivot[last-c]
		if s.pivot[c] {
			s.rank++
		}
	}
	for f := range int32(columns) {
		if s.pivot[f] {
			continue
		}
		for _, e := range mirror.rest[last-f] {
			p := last - e.column
			s.rest[p] = append(s.rest[p], cell{f, negative(e.value)})
			s.users[f] = append(s.users[f], p)
		}
	}
	return s
}

// workings is an elimination that takes its pivots in any column.
type workings struct {
	rows  []vector  // row i without its pivot once it has one
	lead  []int32   // pivot column of row i, -1 before it has one
	users [][]int32 // rows that may hold a column, as in System
	count []int     // active rows that hold a column
	queue [][]int32 // columns by count; a place may be stale
	order []int32   // rows in the order in which they got their pivot
	done  []bool    // columns with a pivot
}

func newWorkings(columns int, rows []vector) *workings {
	w := &workings{
		rows:  rows,
		lead:  make([]int32, len(rows)),
		users: make([][]int32, columns),
		count: make([]int, columns),
		done:  make([]bool, columns),
	}
	for i, row := range rows {
		w.lead[i] = -1
		for _, e := range row {
			w.users[e.column] = append(w.users[e.column], int32(i))
			w.count[e.column]++
		}
	}
	for c := range columns {
		w.enqueue(int32(c))
	}
	return w
}

// enqueue puts a column where its count says. Older places of the column go
// stale and are skipped when met.
func (w *workings) enqueue(column int32) {
	n := w.count[column]
	if n == 0 || w.done[column] {
		return
	}
	for len(w.queue) <= n {
		w.queue = append(w.queue, nil)
	}
	w.queue[n] = append(w.queue[n], column)
}

// next is a column held by the fewest active rows, or false when no active row
// has an entry left.
func (w *workings) next() (int32, bool) {
	for n := range w.queue {
		for len(w.queue[n]) > 0 {
			end := len(w.queue[n]) - 1
			c := w.queue[n][end]
			w.queue[n] = w.queue[n][:end]
			if w.count[c] == n && !w.done[c] {
				return c, true
			}
		}
	}
	return 0, false
}

// forward eliminates with the shortest row of the rarest column, the cheap
// form of Markowitz's rule.
func (w *workings) forward() {
	for {
		c, ok := w.next()
		if !ok {
			return
		}
		w.eliminate(c)
	}
}

func (w *workings) eliminate(c int32) {
	best := int32(-1)
	for _, i := range w.users[c] {
		if w.lead[i] >= 0 {
			continue
		}
		if _, found := w.rows[i].find(c); found && (best < 0 || len(w.rows[i]) < len(w.rows[best])) {
			best = i
		}
	}
	w.lead[best], w.done[c] = c, true
	w.order = append(w.order, best)
	at, _ := w.rows[best].find(c)
	factor := inverse(w.rows[best][at].value)
	rest := append(append(make(vector, 0, len(w.rows[best])), w.rows[best][:at]...), w.rows[best][at+1:]...).scaled(factor)
	w.rows[best] = rest
	for _, i := range w.users[c] {
		if w.lead[i] < 0 {
			w.subtract(i, c, rest)
		}
	}
	for _, e := range rest {
		w.count[e.column]--
		w.enqueue(e.column)
	}
	w.users[c] = nil
}

// subtract clears column c of row i with the pivot row c + rest.
func (w *workings) subtract(i, c int32, rest vector) {
	old := w.rows[i]
	at, found := old.find(c)
	if !found {
		return
	}
	factor := negative(old[at].value)
	for _, e := range rest {
		if _, had := old.find(e.column); !had {
			w.users[e.column] = append(w.users[e.column], i)
			w.count[e.column]++
		}
	}
	without := append(append(make(vector, 0, len(old)), old[:at]...), old[at+1:]...)
	w.rows[i] = plus(without, factor, rest)
	for _, e := range rest {
		if _, has := w.rows[i].find(e.column); !has {
			w.count[e.column]--
		}
	}
}

// backward clears the pivot columns of all rows, last pivot first: each row is
// then left with free columns.
func (w *workings) backward() {
	row := make([]int32, len(w.done))
	for i, c := range w.lead {
		if c >= 0 {
			row[c] = int32(i)
		}
	}
	for k := len(w.order) - 1; k >= 0; k-- {
		i := w.order[k]
		var out vector
		for _, e := range w.rows[i] {
			if w.done[e.column] {
				out = plus(out, negative(e.value), w.rows[row[e.column]])
			} else {
				out = plus(out, 1, vector{e})
			}
		}
		w.rows[i] = out
	}
}

// null lists the vectors of the null space: 1 on a free column, minus its
// entries in the rows on their pivots.
func (w *workings) null() []vector {
	at := make([]vector, len(w.done))
	for i, c := range w.lead {
		if c < 0 {
			continue
		}
		for _, e := range w.rows[i] {
			at[e.column] = append(at[e.column], cell{c, negative(e.value)})
		}
	}
	var out []vector
	for c, v := range at {
		if !w.done[c] {
			out = append(out, append(v, cell{int32(c), 1}).normal())
		}
	}
	return out
}

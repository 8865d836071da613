// Package sparse factors symmetric positive definite matrices most of whose
// entries are zero: the normal equations of a book with many devices, where a
// rig joins a handful of them.
//
// The way is the classical one. An approximate minimum degree ordering keeps
// the factor sparse; a symbolic [Analysis] finds the places of its entries
// once for every matrix of the same pattern; a [Factor] is a Cholesky
// factorisation by dense blocks ("supernodes"), which solves systems, gives
// the log-determinant and, by Takahashi's recursion, the entries of the
// inverse on the pattern of the factor. Those are the only ones that a sum
// over the observations needs.
//
// Background: T. A. Davis, Direct Methods for Sparse Linear Systems, SIAM 2006.
package sparse

import (
	"fmt"
	"math"
	"slices"
)

// Builder collects the entries of a symmetric matrix.
type Builder struct {
	n       int
	entries []entry
}

type entry struct {
	row, column int32 // row >= column
	value       float64
}

// NewBuilder starts a matrix of n unknowns. The error says so when n is
// negative or above 2^31-1.
func NewBuilder(n int) (*Builder, error) {
	if n < 0 || n > math.MaxInt32 {
		return nil, fmt.Errorf("sparse: %d unknowns; send 0 to %d", n, math.MaxInt32)
	}
	return &Builder{n: n}, nil
}

// Add adds v to the entries (i, j) and (j, i), which are one place: an
// off-diagonal entry is sent once, in either triangle. A zero reserves the
// place for later. Values that are not finite are an error.
func (b *Builder) Add(i, j int, v float64) error {
	if err := check(b.n, i, j, v); err != nil {
		return err
	}
	b.entries = append(b.entries, entry{int32(max(i, j)), int32(min(i, j)), v})
	return nil
}

func check(n, i, j int, v float64) error {
	if i < 0 || i >= n || j < 0 || j >= n {
		return fmt.Errorf("sparse: entry (%d, %d) of %d unknowns; send 0 to %d", i, j, n, n-1)
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return fmt.Errorf("sparse: entry (%d, %d) is %v; send a finite number", i, j, v)
	}
	return nil
}

// Build returns the matrix of the entries so far. Every diagonal place is
// present, with 0 where nothing was added. The builder may go on.
func (b *Builder) Build() (*Symmetric, error) {
	count := b.n + len(b.entries)
	if count > math.MaxInt32 {
		return nil, fmt.Errorf("sparse: %d entries; send at most %d", len(b.entries), math.MaxInt32-b.n)
	}
	all := make([]entry, b.n, count)
	for i := range all {
		all[i] = entry{row: int32(i), column: int32(i)}
	}
	all = append(all, b.entries...)
	// By row, then by column; each pass is stable, so that the sum of a place
	// adds up in the order in which its entries came.
	spare := make([]entry, count)
	sortBy(b.n, all, spare, func(e entry) int32 { return e.row })
	sortBy(b.n, spare, all, func(e entry) int32 { return e.column })
	m := &Symmetric{n: b.n, start: make([]int32, b.n+1)}
	for k, e := range all {
		if k > 0 && all[k-1].row == e.row && all[k-1].column == e.column {
			m.value[len(m.value)-1] += e.value
			continue
		}
		m.row = append(m.row, e.row)
		m.value = append(m.value, e.value)
		m.start[e.column+1] = int32(len(m.row))
	}
	return m, nil
}

// sortBy counts the entries of each of n keys and puts them into to by their
// keys, equal ones in the order in which they stand.
func sortBy(n int, from, to []entry, key func(entry) int32) {
	next := make([]int32, n+1)
	for _, e := range from {
		next[key(e)+1]++
	}
	for k := range n {
		next[k+1] += next[k]
	}
	for _, e := range from {
		k := key(e)
		to[next[k]] = e
		next[k]++
	}
}

// Symmetric is a symmetric matrix with a fixed pattern: its lower triangle by
// columns, rows ascending, diagonal always present.
type Symmetric struct {
	n     int
	start []int32 // column j holds places start[j] to start[j+1]
	row   []int32
	value []float64
}

// Size is the number of unknowns.
func (m *Symmetric) Size() int { return m.n }

// Nonzeros is the number of stored places: the lower triangle with the
// diagonal.
func (m *Symmetric) Nonzeros() int { return len(m.row) }

func (m *Symmetric) place(i, j int) (int, bool) {
	i, j = max(i, j), min(i, j)
	if j < 0 || i >= m.n {
		return 0, false
	}
	at, found := slices.BinarySearch(m.row[m.start[j]:m.start[j+1]], int32(i))
	return int(m.start[j]) + at, found
}

// At is the entry (i, j): 0 outside the pattern and outside the matrix.
func (m *Symmetric) At(i, j int) float64 {
	at, found := m.place(i, j)
	if !found {
		return 0
	}
	return m.value[at]
}

// Add adds v to the entries (i, j) and (j, i), once, like [Builder.Add]. A
// place outside the pattern or a value that is not finite is an error.
func (m *Symmetric) Add(i, j int, v float64) error {
	if err := check(m.n, i, j, v); err != nil {
		return err
	}
	at, found := m.place(i, j)
	if !found {
		return fmt.Errorf("sparse: entry (%d, %d) is outside the pattern; reserve it with Builder.Add", i, j)
	}
	m.value[at] += v
	return nil
}

// Clear sets all values to 0 and keeps the pattern, for the next assembly.
func (m *Symmetric) Clear() { clear(m.value) }

// Each visits the stored places column by column: row i >= column j.
func (m *Symmetric) Each(visit func(i, j int, v float64)) {
	for j := range m.n {
		for at := m.start[j]; at < m.start[j+1]; at++ {
			visit(int(m.row[at]), j, m.value[at])
		}
	}
}

// Times is the product of the matrix with x. The error says so when x is not
// as long as the matrix.
func (m *Symmetric) Times(x []float64) ([]float64, error) {
	if len(x) != m.n {
		return nil, fmt.Errorf("sparse: a vector of %d for %d unknowns", len(x), m.n)
	}
	y := make([]float64, m.n)
	for j := range m.n {
		for at := m.start[j]; at < m.start[j+1]; at++ {
			i := m.row[at]
			y[i] += m.value[at] * x[j]
			if int(i) != j {
				y[j] += m.value[at] * x[i]
			}
		}
	}
	return y, nil
}

package exact

import (
	"cmp"
	"slices"
)

// cell is one nonzero entry of a sparse vector over the field.
type cell struct {
	column int32
	value  uint64
}

// vector holds cells of ascending columns and nonzero values.
type vector []cell

func byColumn(a, b cell) int { return cmp.Compare(a.column, b.column) }

// normal sorts the cells, sums those of one column and drops zeros, in place.
func (v vector) normal() vector {
	slices.SortFunc(v, byColumn)
	out := v[:0]
	for _, e := range v {
		if n := len(out); n > 0 && out[n-1].column == e.column {
			out[n-1].value = sum(out[n-1].value, e.value)
			continue
		}
		out = append(out, e)
	}
	return slices.DeleteFunc(out, func(e cell) bool { return e.value == 0 })
}

func (v vector) find(column int32) (int, bool) {
	return slices.BinarySearchFunc(v, column, func(e cell, c int32) int { return cmp.Compare(e.column, c) })
}

// scaled is c v in new memory, for c != 0.
func (v vector) scaled(c uint64) vector {
	out := make(vector, len(v))
	for i, e := range v {
		out[i] = cell{e.column, product(c, e.value)}
	}
	return out
}

// plus is a + c b in new memory. It returns a itself when b is empty.
func plus(a vector, c uint64, b vector) vector {
	if len(b) == 0 {
		return a
	}
	out := make(vector, 0, len(a)+len(b))
	i := 0
	for _, e := range b {
		for i < len(a) && a[i].column < e.column {
			out = append(out, a[i])
			i++
		}
		value := product(c, e.value)
		if i < len(a) && a[i].column == e.column {
			value = sum(value, a[i].value)
			i++
		}
		if value != 0 {
			out = append(out, cell{e.column, value})
		}
	}
	return append(out, a[i:]...)
}

package sparse

import (
	"fmt"
	"slices"
)

// Inverse holds the entries of the inverse matrix on the pattern of the
// factor: at least the diagonal and all places of the matrix itself, so every
// quadratic form of a row that made the matrix. It may be used from several
// goroutines.
type Inverse struct {
	analysis *Analysis
	panels   []float64
}

// Inverse computes the entries by Takahashi's recursion, from the last block
// to the first (Takahashi, Fagan and Chen, PICA 1973; Erisman and Tinney, CACM
// 18, 1975). With the block's part L_jj, L_rj of the factor and the rows r
// below it,
//
//	Y = L_rj L_jj⁻¹,  Z_rj = -Z_rr Y,  Z_jj = L_jj⁻ᵀ L_jj⁻¹ - Yᵀ Z_rj
//
// and Z_rr is known from the blocks after it.
func (f *Factor) Inverse() *Inverse {
	a := f.analysis
	v := &Inverse{analysis: a, panels: make([]float64, len(f.panels))}
	w := recursion{f: f, v: v, at: make([]int32, a.widest)}
	for b := len(a.blocks) - 1; b >= 0; b-- {
		w.block(&a.blocks[b])
	}
	return v
}

type recursion struct {
	f    *Factor
	v    *Inverse
	at   []int32
	free []float64 // memory of the tiles of the block at work
	used int
}

// tile is a cleared tile that lives until the next block.
func (w *recursion) tile(rows, columns int) tile {
	n := rows * columns
	if w.used+n > len(w.free) {
		w.free, w.used = make([]float64, max(2*len(w.free), n)), 0
	}
	data := w.free[w.used : w.used+n : w.used+n]
	w.used += n
	clear(data)
	return tile{data, columns}
}

func (w *recursion) block(t *block) {
	w.used = 0
	width, below := int(t.width), len(t.rows)
	l := tile{w.f.panels[t.panel:], width}
	z := tile{w.v.panels[t.panel : t.panel+t.height()*width], width}
	inv := w.invertTriangle(l, width)
	minus := w.tile(width, width)
	for k, v := range inv.data {
		minus.data[k] = -v
	}
	lessProduct(z, minus, inv, width, width, width, true)
	if below == 0 {
		return
	}
	minusY := w.tile(below, width)
	lessProduct(minusY, tile{l.data[width*width:], width}, inv, below, width, width, false)
	y := w.tile(width, below)
	for i := range below {
		for k := range width {
			y.data[k*below+i] = -minusY.data[i*width+k]
		}
	}
	zrr := w.gather(t)
	zrj := tile{z.data[width*width:], width}
	lessProduct(zrj, zrr, y, below, width, below, false)
	turned := w.tile(width, below)
	for i := range below {
		for k := range width {
			turned.data[k*below+i] = zrj.data[i*width+k]
		}
	}
	lessProduct(z, y, turned, width, width, below, true)
}

// invertTriangle is the transposed inverse of the block's own triangle.
func (w *recursion) invertTriangle(l tile, width int) tile {
	inv, turned := w.tile(width, width), w.tile(width, width)
	for i := range width {
		row := inv.row(i, 0, i+1)
		row[i] = 1
		for j, f := range l.row(i, 0, i) {
			subtract(row[:j+1], f, inv.row(j, 0, j+1))
		}
		d := l.data[i*width+i]
		for k := range row {
			row[k] /= d
			turned.data[k*width+i] = row[k]
		}
	}
	return turned
}

// gather copies the known inverse among the rows below the block, both
// triangles.
func (w *recursion) gather(t *block) tile {
	a, n := w.f.analysis, len(t.rows)
	out := w.tile(n, n)
	for from := 0; from < n; {
		owner := &a.blocks[a.owner[t.rows[from]]]
		end := owner.first + owner.width
		to := from
		for to < n && t.rows[to] < end {
			to++
		}
		w.locate(owner, t.rows[from:])
		width := int(owner.width)
		z := w.v.panels[owner.panel:]
		for i := from; i < n; i++ {
			row := z[int(w.at[i-from])*width:]
			for k := from; k < min(to, i+1); k++ {
				v := row[t.rows[k]-owner.first]
				out.data[i*n+k] = v
				out.data[k*n+i] = v
			}
		}
		from = to
	}
	return out
}

// locate finds the rows, ascending and all present, in a block's panel.
func (w *recursion) locate(t *block, rows []int32) {
	end := t.first + t.width
	at := 0
	for k, i := range rows {
		if i < end {
			w.at[k] = i - t.first
			continue
		}
		for t.rows[at] != i {
			at++
		}
		w.at[k] = t.width + int32(at)
	}
}

// At is the entry (i, j) of the inverse, in the caller's numbering; false
// outside the pattern of the factor and outside the matrix.
func (v *Inverse) At(i, j int) (float64, bool) {
	a := v.analysis
	if i < 0 || j < 0 || i >= a.n || j >= a.n {
		return 0, false
	}
	row, column := a.rank[i], a.rank[j]
	if row < column {
		row, column = column, row
	}
	t := &a.blocks[a.owner[column]]
	at := int(row - t.first)
	if at >= int(t.width) {
		k, found := slices.BinarySearch(t.rows, row)
		if !found {
			return 0, false
		}
		at = int(t.width) + k
	}
	return v.panels[t.panel+at*int(t.width)+int(column-t.first)], true
}

// Diagonal is the diagonal of the inverse: the variances of the unknowns when
// the matrix is the one of their normal equations.
func (v *Inverse) Diagonal() []float64 {
	out := make([]float64, v.analysis.n)
	for i := range out {
		out[i], _ = v.At(i, i)
	}
	return out
}

// Quadratic is w' C⁻¹ w for a sparse w, given by its places and values. The
// error says so when the two differ in length, or when a pair of places is
// outside the pattern of the factor: a row that was assembled into the matrix
// never is, another combination needs [Factor.Solve].
func (v *Inverse) Quadratic(index []int, coef []float64) (float64, error) {
	if len(index) != len(coef) {
		return 0, fmt.Errorf("sparse: %d places and %d values", len(index), len(coef))
	}
	sum := 0.0
	for a, i := range index {
		for b, j := range index[:a+1] {
			z, ok := v.At(i, j)
			if !ok {
				return 0, fmt.Errorf("sparse: entry (%d, %d) of the inverse is outside the factor's pattern", i, j)
			}
			if a != b {
				z *= 2
			}
			sum += coef[a] * coef[b] * z
		}
	}
	return sum, nil
}

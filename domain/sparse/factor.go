package sparse

import (
	"errors"
	"fmt"
	"math"
)

// PivotError says that a matrix is not positive definite: elimination met a
// pivot that is not positive, or no more than the rounding error of its
// diagonal entry. The unknown is then not fixed by the rows and priors that
// made the matrix.
type PivotError struct {
	Unknown int     // in the caller's numbering
	Pivot   float64 // what was left of its diagonal entry
}

// Error implements error.
func (e *PivotError) Error() string {
	return fmt.Sprintf("sparse: the matrix is not positive definite: pivot %g at unknown %d; "+
		"leave out unknowns that nothing determines, or give them a prior", e.Pivot, e.Unknown)
}

// roundOff is the part of a diagonal entry below which a pivot is noise.
const roundOff = 8 * 0x1p-52

// Factor is the Cholesky factor of a matrix. It may be used from several
// goroutines.
type Factor struct {
	analysis *Analysis
	panels   []float64
}

// Factor factors a matrix of the analysed pattern. The error is a
// [*PivotError] when the matrix is not positive definite.
//
// It is the multifrontal method: each block collects the update matrices of
// its children, eliminates its columns and passes its own update on (Duff and
// Reid, ACM TOMS 9, 1983; Liu, SIAM Review 34, 1992).
func (a *Analysis) Factor(m *Symmetric) (*Factor, error) {
	if !a.fits(m) {
		return nil, errors.New("sparse: the matrix has another pattern than the analysis; analyse it first")
	}
	w := assembly{
		a: a, m: m,
		panels: make([]float64, a.size),
		stack:  make([]float64, a.stack),
		local:  make([]int32, a.n),
		at:     make([]int32, a.widest),
		diag:   make([]float64, a.widest),
	}
	for b := range a.blocks {
		if err := w.block(int32(b)); err != nil {
			return nil, err
		}
	}
	return &Factor{analysis: a, panels: w.panels}, nil
}

// assembly is the state of a factorisation.
type assembly struct {
	a       *Analysis
	m       *Symmetric
	panels  []float64
	stack   []float64 // update matrices, lower triangles valid
	top     int
	waiting []waiting
	local   []int32 // row of a column within the block at work
	at      []int32
	diag    []float64 // of the matrix, for the block's columns
}

type waiting struct {
	block int32
	from  int // in the stack
}

func (w *assembly) block(b int32) error {
	t := &w.a.blocks[b]
	width, below := int(t.width), len(t.rows)
	panel := w.panels[t.panel : t.panel+t.height()*width]
	update := w.stack[w.top : w.top+below*below]
	clear(update)
	for k := range t.width {
		w.local[t.first+k] = k
	}
	for k, i := range t.rows {
		w.local[i] = t.width + int32(k)
	}
	w.scatter(t, panel)
	base := w.top
	for range t.children {
		child := w.waiting[len(w.waiting)-1]
		w.waiting = w.waiting[:len(w.waiting)-1]
		rows := w.a.blocks[child.block].rows
		w.extend(rows, w.stack[child.from:child.from+len(rows)*len(rows)], t, panel, update)
		base = child.from
	}
	if k, pivot, ok := factorPanel(panel, width, t.height(), w.diag); !ok {
		return &PivotError{Unknown: w.a.order[int(t.first)+k], Pivot: pivot}
	}
	if below > 0 {
		l := tile{panel[width*width:], width}
		lessProduct(tile{update, below}, l, l, below, below, width, true)
		copy(w.stack[base:], update)
		w.waiting = append(w.waiting, waiting{b, base})
	}
	w.top = base + below*below
	return nil
}

// scatter puts the matrix's entries of the block's columns in the panel.
func (w *assembly) scatter(t *block, panel []float64) {
	p := &w.a.pattern
	for k := range t.width {
		j := t.first + k
		for at := p.start[j]; at < p.start[j+1]; at++ {
			v := w.m.value[p.place[at]]
			panel[int(w.local[p.row[at]])*int(t.width)+int(k)] = v
			if p.row[at] == j {
				w.diag[k] = v
			}
		}
	}
}

// extend adds a child's update matrix to the block: what lies in the block's
// columns to the panel, the rest to the block's own update.
func (w *assembly) extend(rows []int32, child []float64, t *block, panel, update []float64) {
	width, below := int(t.width), len(t.rows)
	split := 0
	for k, i := range rows {
		w.at[k] = w.local[i]
		if w.local[i] < t.width {
			split = k + 1
		}
	}
	for i := range rows {
		in := child[i*len(rows) : i*len(rows)+i+1]
		row := int(w.at[i])
		out := panel[row*width : (row+1)*width]
		for k := range min(split, i+1) {
			out[w.at[k]] += in[k]
		}
		if i < split {
			continue
		}
		out = update[(row-width)*below : (row-width+1)*below]
		for k := split; k <= i; k++ {
			out[int(w.at[k])-width] += in[k]
		}
	}
}

// strip is how many columns a panel eliminates before it updates the others.
const strip = 32

// factorPanel turns the panel's columns into those of the factor. On a pivot
// that is not positive it returns its column and value, and false.
func factorPanel(panel []float64, width, height int, diag []float64) (column int, pivot float64, ok bool) {
	t := tile{panel, width}
	for from := 0; from < width; from += strip {
		to := min(from+strip, width)
		for j := from; j < to; j++ {
			row := t.row(j, from, j)
			d := panel[j*width+j] - dot(row, row)
			if !(d > roundOff*diag[j]) || math.IsInf(d, 1) {
				return j, d, false
			}
			root := math.Sqrt(d)
			panel[j*width+j] = root
			for i := j + 1; i < to; i++ {
				panel[i*width+j] = (panel[i*width+j] - dot(t.row(i, from, j), row)) / root
			}
		}
		for i := to; i < height; i++ {
			x := t.row(i, from, to)
			for j := range x {
				x[j] = (x[j] - dot(x[:j], t.row(from+j, from, from+j))) / panel[(from+j)*width+from+j]
			}
		}
		if to < width {
			x := tile{panel[to*width+from:], width}
			lessProduct(tile{panel[to*width+to:], width}, x, x, height-to, width-to, to-from, true)
		}
	}
	return 0, 0, true
}

// LogDet is the natural logarithm of the determinant.
func (f *Factor) LogDet() float64 {
	sum := 0.0
	for b := range f.analysis.blocks {
		t := &f.analysis.blocks[b]
		width := int(t.width)
		for k := range width {
			sum += math.Log(f.panels[t.panel+k*width+k])
		}
	}
	return 2 * sum
}

// Solve returns the solution x of C x = b and leaves b as it is. The error says
// so when b is not as long as the matrix.
func (f *Factor) Solve(b []float64) ([]float64, error) {
	a := f.analysis
	if len(b) != a.n {
		return nil, fmt.Errorf("sparse: a right-hand side of %d for %d unknowns", len(b), a.n)
	}
	y := make([]float64, a.n)
	for k, i := range a.order {
		y[k] = b[i]
	}
	for k := range a.blocks {
		f.forward(&a.blocks[k], y)
	}
	for k := len(a.blocks) - 1; k >= 0; k-- {
		f.backward(&a.blocks[k], y)
	}
	x := make([]float64, a.n)
	for k, i := range a.order {
		x[i] = y[k]
	}
	return x, nil
}

func (f *Factor) forward(t *block, y []float64) {
	width := int(t.width)
	l := tile{f.panels[t.panel:], width}
	own := y[t.first : t.first+t.width]
	for k := range own {
		own[k] = (own[k] - dot(l.row(k, 0, k), own[:k])) / l.data[k*width+k]
	}
	for k, i := range t.rows {
		y[i] -= dot(l.row(width+k, 0, width), own)
	}
}

func (f *Factor) backward(t *block, y []float64) {
	width := int(t.width)
	l := tile{f.panels[t.panel:], width}
	own := y[t.first : t.first+t.width]
	for k, i := range t.rows {
		subtract(own, y[i], l.row(width+k, 0, width))
	}
	for k := width - 1; k >= 0; k-- {
		own[k] /= l.data[k*width+k]
		subtract(own[:k], own[k], l.row(k, 0, k))
	}
}

// subtract takes f x from y.
func subtract(y []float64, f float64, x []float64) {
	x = x[:len(y)]
	for k, v := range x {
		y[k] -= f * v
	}
}

package sparse

import (
	"fmt"
	"slices"
)

// Analysis is where the factor of a pattern has its entries. It serves every
// matrix of that pattern and may be used from several goroutines.
type Analysis struct {
	n        int
	order    []int
	rank     []int32 // inverse of order
	pattern  lower
	nonzeros int
	matrix   *Symmetric // whose pattern it was made for

	blocks []block
	owner  []int32 // block of a column
	size   int     // of all panels
	stack  int     // largest sum of update matrices that wait at once
	widest int     // most rows of a block
}

// block is a set of consecutive columns with the same rows below them: a
// supernode. Its part of the factor is a dense panel, row by row: first its
// own columns' triangle, then the rows below.
type block struct {
	first, width int32
	rows         []int32 // below the block, ascending
	children     int32   // blocks whose first row below lies in this one
	panel        int     // where its panel starts
}

// height is the number of rows of the panel.
func (b *block) height() int { return int(b.width) + len(b.rows) }

// Analyze orders the unknowns by [MinimumDegree] and analyses the pattern.
func Analyze(m *Symmetric) (*Analysis, error) { return AnalyzeOrdered(m, MinimumDegree(m)) }

// AnalyzeOrdered analyses the pattern for a given order of elimination. It
// keeps the entries of the factor that this order implies, but may eliminate
// independent unknowns in another sequence. The error says so when order is no
// permutation.
func AnalyzeOrdered(m *Symmetric, order []int) (*Analysis, error) {
	rank, err := invert(m.n, order)
	if err != nil {
		return nil, err
	}
	start, column := permute(m, rank).transpose()
	a := &Analysis{n: m.n, order: make([]int, m.n), rank: make([]int32, m.n), matrix: m}
	for k, j := range postorder(eliminationTree(start, column)) {
		a.order[k] = order[j]
		a.rank[order[j]] = int32(k)
	}
	a.pattern = permute(m, a.rank)
	start, column = a.pattern.transpose()
	parent := eliminationTree(start, column)
	count := columnCounts(start, column, parent)
	for _, c := range count {
		a.nonzeros += int(c)
	}
	a.blocks = splitBlocks(joinBlocks(parent, count))
	a.structure()
	return a, nil
}

func invert(n int, order []int) ([]int32, error) {
	if len(order) != n {
		return nil, fmt.Errorf("sparse: an order of %d for %d unknowns", len(order), n)
	}
	rank := make([]int32, n)
	for i := range rank {
		rank[i] = -1
	}
	for k, i := range order {
		if i < 0 || i >= n || rank[i] >= 0 {
			return nil, fmt.Errorf("sparse: the order is no permutation: unknown %d at place %d", i, k)
		}
		rank[i] = int32(k)
	}
	return rank, nil
}

// Order lists the unknowns as they are eliminated.
func (a *Analysis) Order() []int { return slices.Clone(a.order) }

// Nonzeros is the number of entries of the factor with its diagonal.
func (a *Analysis) Nonzeros() int { return a.nonzeros }

// joinBlocks cuts the columns into blocks. Columns with equal structure belong
// together; a block also joins the next one when that is its parent and the
// zeros it would have to carry are few: dense work on a larger block costs
// less than two small ones (relaxed supernodes, Ashcraft and Grimes, ACM TOMS
// 15, 1989).
func joinBlocks(parent, count []int32) []block {
	var out []block
	var zeros []int64
	for j := 0; j < len(parent); {
		end := j + 1
		for end < len(parent) && parent[end-1] == int32(end) && count[end] == count[end-1]-1 {
			end++
		}
		b, z := block{first: int32(j), width: int32(end - j)}, int64(0)
		below := int64(count[end-1] - 1)
		for len(out) > 0 {
			last := out[len(out)-1]
			top := last.first + last.width - 1
			if parent[top] != b.first {
				break
			}
			// Each column of the child grows to the rows of the parent.
			extra := int64(last.width) * (int64(b.width) + below - int64(count[top]-1))
			joined := zeros[len(out)-1] + z + extra
			width := int64(last.width + b.width)
			if !worthJoining(width, joined, width*(width+1)/2+width*below) {
				break
			}
			b, z = block{first: last.first, width: int32(width)}, joined
			out, zeros = out[:len(out)-1], zeros[:len(zeros)-1]
		}
		out, zeros = append(out, b), append(zeros, z)
		j = end
	}
	return out
}

// worthJoining weighs the zeros of a joined block against its size. The steps
// were chosen by timing factorisations of site-clustered books.
func worthJoining(width, zeros, size int64) bool {
	switch {
	case width <= 4:
		return true
	case width <= 16:
		return zeros*10 <= size*5
	case width <= 48:
		return zeros*10 <= size
	}
	return zeros*20 <= size
}

// widestBlock keeps the work on a block's own triangle small beside that on the
// rows below it, and both in cache.
const widestBlock = 128

func splitBlocks(blocks []block) []block {
	out := make([]block, 0, len(blocks))
	for _, b := range blocks {
		for b.width > widestBlock {
			out = append(out, block{first: b.first, width: widestBlock})
			b.first, b.width = b.first+widestBlock, b.width-widestBlock
		}
		out = append(out, b)
	}
	return out
}

// structure finds the rows of every block: those of its columns in the matrix
// and those its children pass on.
func (a *Analysis) structure() {
	a.owner = make([]int32, a.n)
	for b := range a.blocks {
		for k := range a.blocks[b].width {
			a.owner[a.blocks[b].first+k] = int32(b)
		}
	}
	seen := make([]int32, a.n)
	for i := range seen {
		seen[i] = -1
	}
	pending := make([][]int32, len(a.blocks))
	var waiting []int
	for b := range a.blocks {
		t := &a.blocks[b]
		end := t.first + t.width
		take := func(rows []int32) {
			for _, i := range rows {
				if i >= end && seen[i] != int32(b) {
					seen[i] = int32(b)
					t.rows = append(t.rows, i)
				}
			}
		}
		take(a.pattern.row[a.pattern.start[t.first]:a.pattern.start[end]])
		for _, c := range pending[b] {
			take(a.blocks[c].rows)
		}
		slices.Sort(t.rows)
		t.children = int32(len(pending[b]))
		if len(t.rows) > 0 {
			up := a.owner[t.rows[0]]
			pending[up] = append(pending[up], int32(b))
		}
		t.panel = a.size
		a.size += t.height() * int(t.width)
		a.widest = max(a.widest, t.height())
		waiting = a.push(waiting, t)
	}
}

// push follows the stack of update matrices to learn its largest extent.
func (a *Analysis) push(waiting []int, t *block) []int {
	total := 0
	for _, u := range waiting {
		total += u
	}
	own := len(t.rows) * len(t.rows)
	a.stack = max(a.stack, total+own)
	waiting = waiting[:len(waiting)-int(t.children)]
	if len(t.rows) > 0 {
		waiting = append(waiting, own)
	}
	return waiting
}

// fits reports whether the matrix has the pattern of the analysis.
func (a *Analysis) fits(m *Symmetric) bool {
	return m == a.matrix || slices.Equal(m.start, a.matrix.start) && slices.Equal(m.row, a.matrix.row)
}

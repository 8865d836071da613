package study

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Errors collects errors of a prediction.
type Errors struct {
	Count   int
	squares float64
}

func (e *Errors) add(x float64) {
	e.Count++
	e.squares += x * x
}

// RMS is the root mean square of the errors, ms; 0 without any.
func (e Errors) RMS() float64 {
	if e.Count == 0 {
		return 0
	}
	return math.Sqrt(e.squares / float64(e.Count))
}

// least is ordinary least squares by the singular value decomposition.
type least struct {
	beta  []float64
	space *mat.Dense // right singular vectors of the singular values above noise
}

func leastSquares(rows [][]float64, values []float64) least {
	columns := len(rows[0])
	x := mat.NewDense(len(rows), columns, nil)
	for i, row := range rows {
		x.SetRow(i, row)
	}
	var svd mat.SVD
	svd.Factorize(x, mat.SVDThin)
	var u, v mat.Dense
	svd.UTo(&u)
	svd.VTo(&v)
	s := svd.Values(nil)
	rank := svd.Rank(1e-9)
	out := least{beta: make([]float64, columns), space: mat.DenseCopyOf(v.Slice(0, columns, 0, rank))}
	for k := range rank {
		f := 0.0
		for i, y := range values {
			f += u.At(i, k) * y
		}
		for j := range columns {
			out.beta[j] += f / s[k] * v.At(j, k)
		}
	}
	return out
}

// predict is the value of a row, and whether the data determine it: the row is
// then a combination of those that were measured.
func (l least) predict(row []float64) (value float64, determined bool) {
	_, rank := l.space.Dims()
	inside, whole := 0.0, 0.0
	for j, x := range row {
		value += x * l.beta[j]
		whole += x * x
	}
	for k := range rank {
		f := 0.0
		for j, x := range row {
			f += x * l.space.At(j, k)
		}
		inside += f * f
	}
	return value, whole-inside < 1e-9*whole
}

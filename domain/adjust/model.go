package adjust

import (
	"fmt"
	"math"

	"delaybook/domain/sparse"
)

// A Term is a column with its coefficient.
type Term struct {
	Column int
	Coef   float64
}

// A Part is the share of an estimated variance in the own variance of a row.
type Part struct {
	Param  int     // index into theta
	Factor float64 // > 0
}

// A Row is one observation.
type Row struct {
	Terms  []Term // columns distinct
	Y      float64
	Known  float64 // known variance, >= 0
	Parts  []Part  // estimated variances
	Kappa  float64 // fourth cumulant of the known error of this row alone, <= 0 for uniform errors
	Weight float64 // c, > 0: multiplies the own variance
	Signs  []float64
	Within Within // scatter inside a collapsed row; none when DF is 0
	// Outside leaves the row out of the information on variances: it keeps its
	// place in the equations only.
	Outside bool
}

// A Level is an error of known variance shared by the rows of one block.
type Level struct {
	Variance float64 // > 0
	Kappa    float64 // its fourth cumulant
}

// A Block is rows with the levels they share: Row.Signs has one entry a level.
type Block struct {
	Levels []Level
	Rows   []Row
}

// A Random column has mean 0 and a variance.
type Random struct {
	Column int
	Param  int     // index into theta; -1: Known
	Known  float64 // variance when Param is -1, > 0
	Kappa  float64 // fourth cumulant of a column of known variance
}

// A Prior is a pseudo-row of known variance: sum of terms = Value.
type Prior struct {
	Terms    []Term
	Value    float64
	Variance float64 // > 0
}

// Within is what the scatter inside a collapsed row says of a variance: SS/theta
// is chi-squared with DF degrees of freedom and independent of the row's mean.
type Within struct {
	Param  int
	DF, SS float64
}

// A Model is one connected set of rows. Columns without a Random entry are
// fixed; they must be determined by rows and priors.
type Model struct {
	Columns int
	Random  []Random
	Priors  []Prior
	Blocks  []Block

	matrix   *sparse.Symmetric // C as it was solved last, once it was large
	analysis *sparse.Analysis  // of its pattern
}

// within visits the scatter inside the rows that count.
func (m *Model) within(visit func(w Within)) {
	for _, b := range m.Blocks {
		for i := range b.Rows {
			if w := b.Rows[i].Within; w.DF > 0 && !b.Rows[i].Outside {
				visit(w)
			}
		}
	}
}

// Rows returns the number of rows.
func (m *Model) Rows() int {
	n := 0
	for _, b := range m.Blocks {
		n += len(b.Rows)
	}
	return n
}

// A Param is an estimated variance with its prior: Nu pseudo-observations of
// mean square Scale.
type Param struct {
	Value float64 // theta, > 0
	Scale float64 // s0, > 0 unless Nu is 0
	Nu    float64 // nu0, >= 0
}

// Check reports the first number of m that no solution can rest on.
func (m *Model) Check(params int) error {
	for _, r := range m.Random {
		if r.Column < 0 || r.Column >= m.Columns || r.Param >= params || (r.Param < 0 && !(r.Known > 0)) {
			return fmt.Errorf("random column %d: no variance", r.Column)
		}
	}
	for i, p := range m.Priors {
		if !(p.Variance > 0) || !finite(p.Value, p.Variance) {
			return fmt.Errorf("prior %d: value %v, variance %v", i, p.Value, p.Variance)
		}
	}
	for g, b := range m.Blocks {
		for i := range b.Rows {
			if err := b.Rows[i].check(len(b.Levels), m.Columns, params); err != nil {
				return fmt.Errorf("block %d row %d: %w", g, i, err)
			}
		}
	}
	return nil
}

func (r *Row) check(levels, columns, params int) error {
	if !finite(r.Y, r.Known, r.Weight, r.Kappa) || r.Known < 0 || !(r.Weight > 0) {
		return fmt.Errorf("y %v, known variance %v, weight %v", r.Y, r.Known, r.Weight)
	}
	if len(r.Signs) != levels {
		return fmt.Errorf("%d signs for %d levels", len(r.Signs), levels)
	}
	for _, t := range r.Terms {
		if t.Column < 0 || t.Column >= columns || !finite(t.Coef) {
			return fmt.Errorf("term %v", t)
		}
	}
	for _, p := range r.Parts {
		if p.Param < 0 || p.Param >= params || !(p.Factor > 0) {
			return fmt.Errorf("part %v", p)
		}
	}
	if r.Known == 0 && len(r.Parts) == 0 {
		return fmt.Errorf("no variance")
	}
	return nil
}

func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

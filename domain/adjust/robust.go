package adjust

import (
	"math"

	"delaybook/domain/law"
)

const (
	downweightFrom  = 2.5  // ratio of a deleted residual from which a row loses weight
	downweightMoves = 0.05 // relative change of a weight below which the weights have settled
	downweightSteps = 8
	familyError     = 0.01 // chance that any good row of a model is flagged
	flagRounds      = 3
	flagWeight      = 1e6 // of the own variance of a flagged row
)

// A Solver solves models with their present weights, at given variances or
// fitting them.
type Solver func(models []*Model) ([]*State, error)

// Robust solves models, gives less weight to rows that contradict the rest, and
// flags those that contradict it for certain: rows are never dropped.
//
// First the own variance of a row with ratio w = |deleted residual|/SD above
// 2.5 is multiplied by (w/2.5)^2, until the weights settle. Then rows above the
// two-sided normal quantile of 0.01/T, T the rows of their model (Bonferroni;
// W. Baarda, A testing procedure for use in geodetic networks, 1968, with deleted
// residuals), are flagged: own variance times 1e6 and outside the information on
// variances. All others get their full weight back and rows are tested again,
// three rounds at most. A row whose ratio falls below the bound while others are
// flagged is readmitted for good: it contradicted flagged rows only. So two rows
// that nothing else checks, and that contradict one another, both count: none of
// them can be called the wrong one. Robust changes weights only.
func Robust(models []*Model, solve Solver) ([]*State, error) {
	states, err := solve(models)
	if err != nil {
		return nil, err
	}
	for range downweightSteps {
		moved := 0.0
		for i, s := range states {
			moved = max(moved, models[i].reweigh(s.Deleted()))
		}
		if moved == 0 {
			break
		}
		if states, err = solve(models); err != nil {
			return nil, err
		}
		if moved < downweightMoves {
			break
		}
	}
	readmitted := make([]map[*Row]bool, len(models))
	for i := range readmitted {
		readmitted[i] = map[*Row]bool{}
	}
	for range flagRounds {
		changed := false
		for i, s := range states {
			changed = models[i].flag(s.Deleted(), readmitted[i]) || changed
		}
		if !changed {
			break
		}
		if states, err = solve(models); err != nil {
			return nil, err
		}
	}
	return states, nil
}

// Flagged reports whether any row is flagged.
func (m *Model) Flagged() bool {
	for i := range m.Blocks {
		for j := range m.Blocks[i].Rows {
			if m.Blocks[i].Rows[j].Outside {
				return true
			}
		}
	}
	return false
}

// reweigh sets the weights of rows and returns the largest relative move.
func (m *Model) reweigh(deleted []Deleted) float64 {
	moved := 0.0
	for _, d := range deleted {
		row := &m.Blocks[d.Block].Rows[d.Row]
		c := math.Pow(max(1, d.Ratio/downweightFrom), 2)
		moved = max(moved, math.Abs(c/row.Weight-1))
		row.Weight = c
	}
	return moved
}

// flag sets the flags of rows but those readmitted before, to which it adds, and
// reports whether any weight changed.
func (m *Model) flag(deleted []Deleted, readmitted map[*Row]bool) bool {
	bound := law.NormalQuantile(1 - familyError/(2*float64(max(1, len(deleted)))))
	changed := false
	for _, d := range deleted {
		row := &m.Blocks[d.Block].Rows[d.Row]
		weight := 1.0
		switch {
		case d.Ratio > bound && !readmitted[row]:
			weight = flagWeight
		case row.Outside:
			readmitted[row] = true
		}
		changed = changed || row.Weight != weight
		row.Weight, row.Outside = weight, weight == flagWeight
	}
	return changed
}

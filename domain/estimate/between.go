package estimate

import (
	"fmt"

	"delaybook/domain/adjust"
	"delaybook/domain/exact"
)

// withinScatter is the part of the scatter of a class test that no phase can
// explain: the generalised sum of squares that is left when every phase has a
// column of its own, and its degrees of freedom. Several measurements in one
// power-up share its phase, so that their differences hold other scatter only;
// the prior of that is a guess, and a test of the phase must not rest on it.
func withinScatter(m *adjust.Model) (q, nu float64, err error) {
	rows := make([][]exact.Term, 0, m.Rows())
	columns := m.Columns
	for _, b := range m.Blocks {
		for _, r := range b.Rows {
			row := make([]exact.Term, 0, len(r.Terms)+len(r.Signs))
			for _, t := range r.Terms {
				row = append(row, exact.Term{Column: t.Column, Coef: int64(t.Coef)})
			}
			for l, sign := range r.Signs {
				row = append(row, exact.Term{Column: columns + l, Coef: int64(sign)})
			}
			rows = append(rows, row)
		}
		columns += len(b.Levels)
	}
	system, err := exact.Eliminate(columns, rows)
	if err != nil {
		return 0, 0, fmt.Errorf("rank of the power-ups: %w", err)
	}
	nu = float64(len(rows) - system.Rank())
	if nu == 0 {
		return 0, 0, nil
	}
	state, err := adjust.Solve(freed(m, rows, system), nil)
	if err != nil {
		return 0, 0, err
	}
	return state.Quadratic(), nu, nil
}

// freed is the model with columns for its levels, those without a pivot left
// out: they add nothing to the space of the others.
func freed(m *adjust.Model, rows [][]exact.Term, system *exact.System) *adjust.Model {
	number := map[int]int{}
	for k, c := range system.Pivots() {
		number[c] = k
	}
	out := &adjust.Model{Columns: len(number)}
	at := 0
	for _, b := range m.Blocks {
		var block adjust.Block
		for _, r := range b.Rows {
			r.Terms, r.Signs = nil, nil
			for _, t := range rows[at] {
				if k, ok := number[t.Column]; ok && t.Coef != 0 {
					r.Terms = append(r.Terms, adjust.Term{Column: k, Coef: float64(t.Coef)})
				}
			}
			block.Rows = append(block.Rows, r)
			at++
		}
		out.Blocks = append(out.Blocks, block)
	}
	return out
}

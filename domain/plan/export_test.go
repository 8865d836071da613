package plan

// SolveApart is Solve with every control a variable of its own, as groups too large for a table are.
func SolveApart(p Problem, b Budget) (Plan, error) {
	r, err := compile(p)
	if err != nil {
		return Plan{}, err
	}
	pl := newPlanner(r, b)
	for _, g := range pl.groups {
		g.vars = nil
		for _, c := range g.members {
			g.vars = append(g.vars, single(r, c))
		}
	}
	pl.pictures(pl.safe())
	pl.sounds()
	return pl.report(), nil
}

package plan

import "slices"

// Solve plans a rig. The error is a *Refusal when the problem is not one; a rig that cannot be
// brought into its limits is not an error but a Plan that says so.
func Solve(p Problem, b Budget) (Plan, error) {
	r, err := compile(p)
	if err != nil {
		return Plan{}, err
	}
	pl := newPlanner(r, b)
	v := pl.safe()
	pl.pictures(v)
	pl.sounds()
	return pl.report(), nil
}

func newPlanner(r *rig, b Budget) *planner {
	pl := &planner{
		rig: r, work: newSearch(b), at: r.least(), need: make([]int, len(r.pairs)),
		pairsOf: make([][]int, len(r.controls)), worst: make([]int, len(r.controls)),
	}
	pl.groups = groups(r, r.movable)
	for i := range r.pairs {
		if r.pairs[i].counts() {
			for _, path := range [][]int{r.pairs[i].picture, r.pairs[i].sound} {
				for _, c := range path {
					pl.pairsOf[c] = append(pl.pairsOf[c], i)
				}
			}
		}
	}
	for c := range r.controls {
		pl.worst[c] = noWorst
		if ctl := &r.controls[c]; ctl.now >= 0 && pl.unused(c) {
			pl.at[c] = ctl.now // nothing asks it to move
		}
	}
	return pl
}

// unused says whether a control acts on no counted pair and no feed.
func (pl *planner) unused(c int) bool {
	return len(pl.pairsOf[c]) == 0 &&
		!slices.ContainsFunc(pl.rig.feeds, func(f feed) bool { return slices.Contains(f.controls, c) })
}

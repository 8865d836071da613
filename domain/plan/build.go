package plan

import "slices"

// A view is a model of some groups of controls, the rest of the rig being constant.
type view struct {
	*model
	rig    *rig
	groups []*group
	of     []int32 // variable of a control, -1 when it is constant
	first  []int32 // first variable of each group
	rest   []int   // assignment the constants are taken from
	rows   []pairRow
}

// A pairRow is a pair seen through a view: after = form + offset.
type pairRow struct {
	pair   int
	form   int
	offset int64
}

// newView models the groups; constants are read from rest, which also gives the incumbent.
func newView(r *rig, work *search, gs []*group, rest []int) *view {
	v := &view{rig: r, groups: gs, of: make([]int32, len(r.controls)), rest: rest}
	for c := range v.of {
		v.of[c] = -1
	}
	var vars []*variable
	for _, g := range gs {
		v.first = append(v.first, int32(len(vars)))
		for _, x := range g.vars {
			for _, c := range x.members {
				v.of[c] = int32(len(vars))
			}
			vars = append(vars, x)
		}
	}
	v.model = newModel(vars, work)
	v.begin(rest)
	return v
}

// begin makes an assignment of controls the incumbent.
func (v *view) begin(at []int) {
	for i, x := range v.vars {
		sum := int64(0)
		for _, c := range x.members {
			sum += v.rig.controls[c].grid.vals[at[c]]
		}
		v.inc[i] = x.grid.from(sum, 0, len(x.grid.vals)-1)
	}
}

// controls writes an assignment of variables into one of controls.
func (v *view) controls(at []int, vars []int) {
	for i, x := range v.vars {
		x.set(at, vars[i])
	}
}

// addPair gives the row of a pair; form is -1 when nothing on its paths can move here.
func (v *view) addPair(i int) pairRow {
	p := &v.rig.pairs[i]
	terms := make([]term, 0, len(p.picture)+len(p.sound))
	row := pairRow{pair: i, form: -1, offset: p.loc}
	terms, row.offset = v.collect(terms, p.picture, 1, row.offset)
	terms, row.offset = v.collect(terms, p.sound, -1, row.offset)
	if len(terms) > 0 {
		row.form = v.form(sorted(terms))
	}
	return row
}

// collect adds the variables of a path with a coefficient, once each, and its constants.
func (v *view) collect(terms []term, path []int, coef, offset int64) ([]term, int64) {
	for _, c := range path {
		x := v.of[c]
		if x < 0 {
			offset += coef * v.rig.controls[c].grid.vals[v.rest[c]]
			continue
		}
		if !slices.ContainsFunc(terms, func(t term) bool { return t.v == x }) {
			terms = append(terms, term{x, coef})
		}
	}
	return terms, offset
}

func sorted(terms []term) []term {
	slices.SortFunc(terms, func(a, b term) int { return int(a.v - b.v) })
	return terms
}

// weighted is the form with a weight per variable; -1 when all are zero.
func (v *view) weighted(weights []int64) int {
	var terms []term
	for i, w := range weights {
		if w != 0 {
			terms = append(terms, term{int32(i), w})
		}
	}
	if len(terms) == 0 {
		return -1
	}
	return v.form(terms)
}

// holdFeeds requires the bound of every feed that has something to move here.
func (v *view) holdFeeds(except int) {
	for i := range v.rig.feeds {
		if form, most := v.feedRow(i); form >= 0 && i != except {
			v.require([]bound{{form, noLower, most}})
		}
	}
}

// feedRow is a feed's form and the most it may sum to.
func (v *view) feedRow(i int) (form int, most int64) {
	f := &v.rig.feeds[i]
	most = f.max
	weights := make([]int64, len(v.vars))
	for _, c := range f.controls {
		ctl := &v.rig.controls[c]
		most += ctl.base
		if x := v.of[c]; x >= 0 {
			weights[x] = 1
		} else {
			most -= ctl.grid.vals[v.rest[c]]
		}
	}
	return v.weighted(weights), most
}

// atLevel is the bound that holds a row at a level; ok is false when nothing can.
func (v *view) atLevel(row pairRow, want int) (x bound, ok bool) {
	p := &v.rig.pairs[row.pair]
	a, b := v.rig.band(p, want)
	a, b = a-row.offset+p.loc, b-row.offset+p.loc
	if row.form < 0 {
		return bound{}, a <= 0 && 0 <= b
	}
	return bound{row.form, a, b}, a <= b
}

// levelOf is the level of a row at an assignment of variables.
func (v *view) levelOf(row pairRow, at []int) int {
	return v.rig.levels.at(v.rig.pairs[row.pair].class, v.distance(row, v.after(row, at)))
}

func (v *view) after(row pairRow, at []int) int64 {
	if row.form < 0 {
		return row.offset
	}
	return row.offset + v.value(row.form, at)
}

// distance of an offset from the middle of the row's window, half ticks.
func (v *view) distance(row pairRow, after int64) int64 {
	p := &v.rig.pairs[row.pair]
	d := 2*after - (p.early - p.late)
	return max(d, -d)
}

// bestLevel bounds the level of a row over the root domain.
func (v *view) bestLevel(row pairRow) int {
	least, most := row.offset, row.offset
	if row.form >= 0 {
		l, m := v.reach(row.form)
		least, most = least+l, most+m
	}
	p := &v.rig.pairs[row.pair]
	lo, hi := 2*least-(p.early-p.late), 2*most-(p.early-p.late)
	return v.rig.levels.at(p.class, max(lo, -hi, 0))
}

// listOrder lets the groups, in the order of their first control, take the larger sum, and inside a
// group the control listed first.
func (v *view) listOrder(wanted func(*group) bool) {
	for i, g := range v.groups {
		if wanted(g) && !v.decided() {
			weights := make([]int64, len(v.vars))
			for k := range g.vars {
				weights[int(v.first[i])+k] = 1
			}
			v.enlarge(v.weighted(weights))
		}
	}
	for i, g := range v.groups {
		if !wanted(g) || len(g.vars) == 1 {
			continue
		}
		for k := range g.vars {
			if !v.decided() {
				v.enlarge(v.form([]term{{v.first[i] + int32(k), 1}}))
			}
		}
	}
}

package plan

import "slices"

// maxCutForms bounds the forms that are compared two by two for cuts.
const maxCutForms = 1500

// A cut is the difference of two forms that share terms. Propagation sees the shared terms only
// through the bounds of their variables, and loses that the two forms move together; the difference
// is bounded by theirs and keeps it. So with several sound controls on every path the pictures are
// still held apart as strictly as with one.
type cut struct{ plus, minus, form int }

// addCuts finds the cuts worth having: two or more shared terms, and no more than two left.
func (m *model) addCuts() {
	long := slices.ContainsFunc(m.forms, func(f form) bool { return len(f.terms) > 2 })
	if !long || len(m.forms) > maxCutForms {
		return
	}
	m.cuts = nil
	bounded := len(m.forms)
	for i := range bounded {
		for j := range i {
			if left, shared := difference(m.forms[i].terms, m.forms[j].terms); shared >= 2 && len(left) > 0 {
				m.cuts = append(m.cuts, cut{i, j, m.form(left)})
			}
		}
	}
}

// difference is a - b without the terms they share, or nothing when more than two are left.
func difference(a, b []term) (left []term, shared int) {
	i, j := 0, 0
	for i < len(a) || j < len(b) {
		switch {
		case j == len(b) || (i < len(a) && a[i].v < b[j].v):
			left = append(left, a[i])
			i++
		case i == len(a) || b[j].v < a[i].v:
			left = append(left, term{b[j].v, -b[j].coef})
			j++
		case a[i].coef == b[j].coef:
			i, j, shared = i+1, j+1, shared+1
		default:
			return nil, 0
		}
		if len(left) > 2 {
			return nil, 0
		}
	}
	return left, shared
}

// applyCuts bounds the differences by the bounds of their forms, rounded to the sums these can reach.
func (m *model) applyCuts(d *domain) {
	if len(m.cuts) == 0 {
		return
	}
	a, b := m.work.roundA[:0], m.work.roundB[:0]
	for f := range m.forms {
		least, most := m.forms[f].reach(m.vars, d)
		lo, hi := m.round(d, m.forms[f].terms, least, max(d.a[f], least), min(d.b[f], most))
		a, b = append(a, lo), append(b, hi)
	}
	m.work.roundA, m.work.roundB = a, b
	for _, c := range m.cuts {
		lo, hi := a[c.plus]-b[c.minus], b[c.plus]-a[c.minus]
		if lo > d.a[c.form] || hi < d.b[c.form] {
			d.a[c.form], d.b[c.form] = max(d.a[c.form], lo), min(d.b[c.form], hi)
			m.work.enqueue(int32(c.form))
		}
	}
}

// round narrows [a, b] to sums congruent to the least one modulo the common divisor of the free steps.
func (m *model) round(d *domain, terms []term, least, a, b int64) (int64, int64) {
	if g := m.lattice(d, terms); g > 0 {
		if a > least {
			a = least + ceilDiv(a-least, g)*g
		}
		b = least + floorDiv(b-least, g)*g
	}
	return a, b
}

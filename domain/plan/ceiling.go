package plan

// ceiling bounds a form from above: by its variables, and by every bounded form that contains it,
// less the least of that form's other terms. A sum of controls that share a path is held by the path
// long before each of them is held by itself.
func (m *model) ceiling(f int) int64 {
	_, best := m.reach(f)
	inside := make(map[int32]int64, len(m.forms[f].terms))
	for _, t := range m.forms[f].terms {
		inside[t.v] = t.coef
	}
	for g := range m.forms {
		if g == f {
			continue
		}
		if most, ok := m.through(g, inside); ok {
			best = min(best, most)
		}
	}
	return best
}

// through is the bound that form g gives on the terms inside it; ok is false when it does not hold
// all of them with one sign.
func (m *model) through(g int, inside map[int32]int64) (most int64, ok bool) {
	sign, found := int64(0), 0
	for _, t := range m.forms[g].terms {
		coef, in := inside[t.v]
		switch {
		case !in:
			continue
		case coef == t.coef && sign >= 0:
			sign = 1
		case coef == -t.coef && sign <= 0:
			sign = -1
		default:
			return 0, false
		}
		found++
	}
	switch {
	case found != len(inside):
		return 0, false
	case sign > 0 && m.root.b[g] < noUpper:
		most = m.root.b[g]
	case sign < 0 && m.root.a[g] > noLower:
		most = -m.root.a[g]
	default:
		return 0, false
	}
	for _, t := range m.forms[g].terms {
		if _, in := inside[t.v]; !in {
			vals := m.vars[t.v].grid.vals
			most -= min(sign*t.coef*vals[m.root.lo[t.v]], sign*t.coef*vals[m.root.hi[t.v]])
		}
	}
	return most, true
}

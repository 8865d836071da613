package plan

import (
	"encoding/binary"
	"math"
)

const (
	noLower = math.MinInt64 / 4
	noUpper = math.MaxInt64 / 4
)

// A term is coef times the delay of a variable of a model.
type term struct {
	v    int32
	coef int64
}

// A form is a sum of terms; one form serves all rows with the same free part.
type form struct{ terms []term }

// A bound narrows a form to [a, b].
type bound struct {
	form int
	a, b int64
}

// limits are the most a model may spend on each count.
type limits struct{ changed, offMin int }

var noLimits = limits{math.MaxInt32, math.MaxInt32}

// A domain is the index interval of every variable and the bounds of every form.
type domain struct {
	lo, hi []int32
	a, b   []int64
	limits limits
}

func (d *domain) copyFrom(s *domain) {
	d.lo, d.hi = append(d.lo[:0], s.lo...), append(d.hi[:0], s.hi...)
	d.a, d.b = append(d.a[:0], s.a...), append(d.b[:0], s.b...)
	d.limits = s.limits
}

// A model is a set of variables, linear forms over them, and what is required of both so far. It
// holds an incumbent that satisfies all of that from the moment one is found.
type model struct {
	vars    []*variable
	counted []bool // whether the variable takes part in the counts
	forms   []form
	byVar   [][]int32
	cuts    []cut
	index   map[string]int
	root    domain
	settled bool // root is at its fixpoint
	inc     []int
	work    *search
}

// newModel has the variables at their full grids, no forms, and the least delays as incumbent.
func newModel(vars []*variable, work *search) *model {
	m := &model{
		vars: vars, counted: make([]bool, len(vars)), byVar: make([][]int32, len(vars)),
		index: map[string]int{}, inc: make([]int, len(vars)), work: work,
	}
	m.root.limits = noLimits
	m.root.lo, m.root.hi = make([]int32, len(vars)), make([]int32, len(vars))
	for i, v := range vars {
		m.root.hi[i] = int32(len(v.grid.vals) - 1)
	}
	return m
}

// form is the index of the form with these terms (ascending by variable, no zero coefficients).
func (m *model) form(terms []term) int {
	key := make([]byte, 0, 12*len(terms))
	for _, t := range terms {
		key = binary.LittleEndian.AppendUint32(key, uint32(t.v))
		key = binary.LittleEndian.AppendUint64(key, uint64(t.coef))
	}
	if f, ok := m.index[string(key)]; ok {
		return f
	}
	f := len(m.forms)
	m.index[string(key)] = f
	m.forms = append(m.forms, form{terms})
	m.root.a, m.root.b = append(m.root.a, noLower), append(m.root.b, noUpper)
	for _, t := range terms {
		m.byVar[t.v] = append(m.byVar[t.v], int32(f))
	}
	return f
}

// require narrows forms for good, without checking that a setting is left.
func (m *model) require(bounds []bound) {
	for _, x := range bounds {
		m.root.a[x.form] = max(m.root.a[x.form], x.a)
		m.root.b[x.form] = min(m.root.b[x.form], x.b)
	}
	m.settled = false
}

// value is a form's sum at an assignment of variables.
func (m *model) value(f int, at []int) int64 {
	sum := int64(0)
	for _, t := range m.forms[f].terms {
		sum += t.coef * m.vars[t.v].grid.vals[at[t.v]]
	}
	return sum
}

// reach is the least and largest sum of a form over the root domain.
func (m *model) reach(f int) (least, most int64) {
	return m.forms[f].reach(m.vars, &m.root)
}

func (f *form) reach(vars []*variable, d *domain) (least, most int64) {
	for _, t := range f.terms {
		vals := vars[t.v].grid.vals
		lo, hi := t.coef*vals[d.lo[t.v]], t.coef*vals[d.hi[t.v]]
		if t.coef < 0 {
			lo, hi = hi, lo
		}
		least, most = least+lo, most+hi
	}
	return least, most
}

// count is the sum of the changed and off-minimum counts at an assignment of variables.
func (m *model) count(at []int) limits {
	var n limits
	for i, v := range m.vars {
		if m.counted[i] {
			n.changed += v.changed.at(at[i])
			n.offMin += v.offMin.at(at[i])
		}
	}
	return n
}

// decided says whether the root leaves one value to every variable.
func (m *model) decided() bool {
	for i := range m.vars {
		if m.root.lo[i] != m.root.hi[i] {
			return false
		}
	}
	return true
}

package plan

// A search decides models: is there a setting within these bounds? It carries the budget of a plan
// and the memory that decisions share.
type search struct {
	budget Budget
	// nodes are those of the current decision, most how many it may take.
	nodes, most int
	steps       int
	over        bool // the time of the plan is over
	unproven    bool // some decision of the plan was cut short
	stack       []domain
	queue       []int32
	queued      []bool
	found       []int
	roundA      []int64
	roundB      []int64
}

func newSearch(b Budget) *search {
	if b.Nodes <= 0 {
		b.Nodes = DefaultNodes
	}
	return &search{budget: b}
}

type answer int8

const (
	refuted answer = iota
	reached
	cutShort
)

// expired polls the clock.
func (s *search) expired() bool {
	if !s.over && s.budget.Expired != nil && s.budget.Expired() {
		s.over = true
	}
	return s.over
}

// decide looks for a setting within the root's bounds, the further bounds and the limits. When it
// answers reached, s.found holds it (by variable) and s.stack[0] the root's domain narrowed by them.
func (m *model) decide(further []bound, lim limits) answer {
	s := m.work
	s.nodes, s.most = 0, s.budget.Nodes
	if s.expired() {
		s.unproven = true
		return cutShort
	}
	d := s.level(0)
	d.copyFrom(&m.root)
	d.limits = limits{min(lim.changed, d.limits.changed), min(lim.offMin, d.limits.offMin)}
	s.clearQueue(len(m.forms))
	if !m.settled {
		for f := range m.forms {
			s.enqueue(int32(f))
		}
	}
	for _, x := range further {
		d.a[x.form], d.b[x.form] = max(d.a[x.form], x.a), min(d.b[x.form], x.b)
		s.enqueue(int32(x.form))
	}
	m.applyCuts(d)
	got := m.explore(0)
	if got == cutShort {
		s.unproven = true
	}
	return got
}

// level is the domain of a depth of the search.
func (s *search) level(depth int) *domain {
	for len(s.stack) <= depth {
		s.stack = append(s.stack, domain{})
	}
	return &s.stack[depth]
}

// explore decides the domain at a depth.
func (m *model) explore(depth int) answer {
	s := m.work
	s.nodes++
	if s.nodes > s.most || (s.nodes%256 == 0 && s.expired()) {
		return cutShort
	}
	s.level(depth + 1)
	if !m.propagate(&s.stack[depth]) {
		s.clearQueue(len(m.forms))
		if s.over {
			return cutShort
		}
		return refuted
	}
	v, parts, ok := m.branch(&s.stack[depth])
	if ok {
		return reached
	}
	for _, p := range parts {
		if p[0] > p[1] {
			continue
		}
		child := s.level(depth + 1)
		child.copyFrom(&s.stack[depth])
		child.lo[v], child.hi[v] = p[0], p[1]
		for _, f := range m.byVar[v] {
			s.enqueue(f)
		}
		if got := m.explore(depth + 1); got != refuted {
			return got
		}
	}
	return refuted
}

// branch looks whether a corner of the domain is a setting (then s.found holds it); else it names a
// variable and the index intervals to try for it, the likelier first.
func (m *model) branch(d *domain) (v int32, parts [3][2]int32, ok bool) {
	s := m.work
	f := m.try(d, func(i int) int { return int(d.lo[i]) })
	if f == satisfied {
		return 0, parts, true
	}
	if m.try(d, func(i int) int { return int(d.hi[i]) }) == satisfied {
		return 0, parts, true
	}
	if d.limits != noLimits && m.try(d, func(i int) int { return m.cheap(d, i) }) == satisfied {
		return 0, parts, true
	}
	if f == overCount {
		return m.splitCount(d)
	}
	v, coef := m.narrowest(d, f)
	mid := d.lo[v] + (d.hi[v]-d.lo[v])/2
	low, high := [2]int32{d.lo[v], mid}, [2]int32{mid + 1, d.hi[v]}
	// The lower corner violates f: too small a sum wants larger terms, too large a sum smaller ones.
	for i := range m.vars {
		s.found[i] = int(d.lo[i])
	}
	small := m.value(f, s.found) < d.a[f]
	if small == (coef > 0) {
		low, high = high, low
	}
	return v, [3][2]int32{low, high, {1, 0}}, false
}

const (
	satisfied = -1
	overCount = -2
)

// try puts a corner into s.found and returns the first form it violates, overCount, or satisfied.
func (m *model) try(d *domain, corner func(i int) int) int {
	s := m.work
	s.found = s.found[:0]
	for i := range m.vars {
		s.found = append(s.found, corner(i))
	}
	for f := range m.forms {
		if d.a[f] <= noLower && d.b[f] >= noUpper {
			continue
		}
		if x := m.value(f, s.found); x < d.a[f] || x > d.b[f] {
			return f
		}
	}
	if d.limits != noLimits {
		if n := m.count(s.found); n.changed > d.limits.changed || n.offMin > d.limits.offMin {
			return overCount
		}
	}
	return satisfied
}

// cheap is the index of a variable that spares the count that is limited.
func (m *model) cheap(d *domain, i int) int {
	v := m.vars[i]
	if m.counted[i] && v.changed.least(int(d.lo[i]), int(d.hi[i])) < v.changed.at(int(d.lo[i])) {
		return v.changed.cheapest(int(d.lo[i]), int(d.hi[i]))
	}
	return int(d.lo[i])
}

// narrowest is the free variable of a form with the fewest values left, and its coefficient.
func (m *model) narrowest(d *domain, f int) (v int32, coef int64) {
	v = -1
	for _, t := range m.forms[f].terms {
		n := d.hi[t.v] - d.lo[t.v]
		if n > 0 && (v < 0 || n < d.hi[v]-d.lo[v]) {
			v, coef = t.v, t.coef
		}
	}
	return v, coef
}

// splitCount takes a variable whose cheapest value is not its lowest and tries that value first.
func (m *model) splitCount(d *domain) (v int32, parts [3][2]int32, ok bool) {
	for i := range m.vars {
		lo, hi := d.lo[i], d.hi[i]
		if !m.counted[i] || lo == hi {
			continue
		}
		for _, c := range []cost{m.vars[i].changed, m.vars[i].offMin} {
			if k := int32(c.cheapest(int(lo), int(hi))); c.at(int(k)) < c.at(int(lo)) {
				return int32(i), [3][2]int32{{k, k}, {lo, k - 1}, {k + 1, hi}}, false
			}
		}
	}
	return 0, parts, false // unreachable: the least counts fit, or propagation had refuted
}

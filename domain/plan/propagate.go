package plan

func (s *search) clearQueue(forms int) {
	s.queue = s.queue[:0]
	if len(s.queued) < forms {
		s.queued = make([]bool, forms)
	}
	clear(s.queued)
}

func (s *search) enqueue(f int32) {
	if !s.queued[f] {
		s.queued[f] = true
		s.queue = append(s.queue, f)
	}
}

// propagate narrows a domain until no form and no count narrows it further; false refutes it.
func (m *model) propagate(d *domain) bool {
	s := m.work
	for {
		for head := 0; head < len(s.queue); head++ {
			f := s.queue[head]
			s.queued[f] = false
			if s.steps++; s.steps%4096 == 0 && s.expired() {
				return false
			}
			if !m.narrow(d, f) {
				return false
			}
			if head > 1024 && 2*head > len(s.queue) {
				s.queue = append(s.queue[:0], s.queue[head+1:]...)
				head = -1
			}
		}
		s.queue = s.queue[:0]
		if d.limits == noLimits {
			return true
		}
		if !m.narrowCounts(d) {
			return false
		}
		if len(s.queue) == 0 {
			return true
		}
	}
}

// narrow applies one form. The bounds are first rounded to the sums the form can reach: those
// congruent to its least sum modulo the common divisor of its free steps.
func (m *model) narrow(d *domain, f int32) bool {
	a, b := d.a[f], d.b[f]
	if a <= noLower && b >= noUpper {
		return true
	}
	terms := m.forms[f].terms
	least, most := m.forms[f].reach(m.vars, d)
	if a <= least && most <= b {
		return true
	}
	if a > most || b < least {
		return false
	}
	if len(terms) > 1 {
		a, b = m.round(d, terms, least, a, min(b, most))
	}
	if a > b || a > most || b < least {
		return false
	}
	for _, t := range terms {
		if d.lo[t.v] == d.hi[t.v] {
			continue
		}
		if !m.narrowTerm(d, t, a-most, b-least) {
			return false
		}
	}
	return true
}

// lattice is the common divisor of the differences of a form's sums, 0 when all terms are fixed.
func (m *model) lattice(d *domain, terms []term) int64 {
	g := int64(0)
	for _, t := range terms {
		if d.lo[t.v] == d.hi[t.v] {
			continue
		}
		step := m.vars[t.v].grid.gcds[d.lo[t.v]] * t.coef
		if g == 0 {
			g = max(step, -step)
		} else if g != step && g != -step {
			g = gcd(g, step)
		}
	}
	return g
}

// narrowTerm narrows one variable given how much its term must rise above its largest value
// (up <= 0 unless refuted) and may rise above its least (down >= 0).
func (m *model) narrowTerm(d *domain, t term, up, down int64) bool {
	grid := m.vars[t.v].grid
	lo, hi := d.lo[t.v], d.hi[t.v]
	var atLeast, atMost int64
	if t.coef > 0 {
		atLeast = grid.vals[hi] + ceilDiv(up, t.coef)
		atMost = grid.vals[lo] + floorDiv(down, t.coef)
	} else {
		atLeast = grid.vals[hi] - floorDiv(down, -t.coef)
		atMost = grid.vals[lo] - ceilDiv(up, -t.coef)
	}
	if atLeast > grid.vals[lo] {
		lo = int32(grid.from(atLeast, int(lo), int(hi)))
	}
	if lo <= hi && atMost < grid.vals[hi] {
		hi = int32(grid.to(atMost, int(lo), int(hi)))
	}
	if lo > hi {
		return false
	}
	m.shrink(d, t.v, lo, hi)
	return true
}

// shrink writes an interval and queues the forms that see it change.
func (m *model) shrink(d *domain, v, lo, hi int32) {
	if lo == d.lo[v] && hi == d.hi[v] {
		return
	}
	d.lo[v], d.hi[v] = lo, hi
	for _, f := range m.byVar[v] {
		m.work.enqueue(f)
	}
}

// narrowCounts applies both count limits.
func (m *model) narrowCounts(d *domain) bool {
	return m.narrowCount(d, d.limits.changed, func(v *variable) cost { return v.changed }) &&
		m.narrowCount(d, d.limits.offMin, func(v *variable) cost { return v.offMin })
}

func (m *model) narrowCount(d *domain, most int, of func(*variable) cost) bool {
	slack := most
	for i, v := range m.vars {
		if m.counted[i] {
			slack -= of(v).least(int(d.lo[i]), int(d.hi[i]))
		}
	}
	if slack < 0 {
		return false
	}
	for i, v := range m.vars {
		if !m.counted[i] || d.lo[i] == d.hi[i] {
			continue
		}
		c := of(v)
		lo, hi := c.within(int(d.lo[i]), int(d.hi[i]), slack+c.least(int(d.lo[i]), int(d.hi[i])))
		if lo > hi {
			return false
		}
		m.shrink(d, int32(i), int32(lo), int32(hi))
	}
	return true
}

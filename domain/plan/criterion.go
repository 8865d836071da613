package plan

// A criterion is one thing to have as large as possible: a threshold t, what t asks of the model,
// and what a setting reaches.
type criterion struct {
	// have is what the incumbent reaches, best what nothing exceeds.
	have, best int64
	with       func(t int64) ([]bound, limits)
	value      func(at []int) int64
}

// largest is the largest threshold that can be had, found by trying the best, then one step more
// than the incumbent (which is most often the optimum already), then halving. The incumbent follows.
// A threshold that was cut short counts as out of reach.
func (m *model) largest(c criterion) int64 {
	have, best := c.have, c.best
	for try := 0; have < best; try++ {
		t := best
		switch {
		case try == 1:
			t = have + 1
		case try > 1:
			t = have + (best-have+1)/2
		}
		bounds, lim := c.with(t)
		if m.decide(bounds, lim) != reached {
			best = t - 1
			continue
		}
		m.inc = append(m.inc[:0], m.work.found...)
		have = max(t, c.value(m.inc))
	}
	return have
}

// maximise finds the largest threshold and keeps it as a requirement.
func (m *model) maximise(c criterion) int64 {
	t := m.largest(c)
	bounds, lim := c.with(t)
	m.require(bounds)
	m.root.limits = limits{min(m.root.limits.changed, lim.changed), min(m.root.limits.offMin, lim.offMin)}
	m.settle()
	return t
}

// settle narrows the root to its fixpoint; later decisions start from there.
func (m *model) settle() {
	m.work.clearQueue(len(m.forms))
	for f := range m.forms {
		m.work.enqueue(int32(f))
	}
	m.applyCuts(&m.root)
	m.settled = m.propagate(&m.root)
}

// lessen has a linear form as small as possible, enlarge as large as possible.
func (m *model) lessen(f int) {
	least, _ := m.reach(f)
	m.maximise(criterion{
		have: -m.value(f, m.inc), best: -least,
		with:  func(t int64) ([]bound, limits) { return []bound{{f, noLower, -t}}, noLimits },
		value: func(at []int) int64 { return -m.value(f, at) },
	})
}

func (m *model) enlarge(f int) { m.enlargeTo(f, m.ceiling(f)) }

// enlargeTo is enlarge where most is known to bound the form.
func (m *model) enlargeTo(f int, most int64) {
	m.maximise(criterion{
		have: m.value(f, m.inc), best: most,
		with:  func(t int64) ([]bound, limits) { return []bound{{f, t, noUpper}}, noLimits },
		value: func(at []int) int64 { return m.value(f, at) },
	})
}

// fewestChanged and fewestOffMin spend as little as possible on a count.
func (m *model) fewestChanged() {
	m.maximise(criterion{
		have: -int64(m.count(m.inc).changed), best: -int64(m.leastCount(func(v *variable) cost { return v.changed })),
		with:  func(t int64) ([]bound, limits) { return nil, limits{int(-t), noLimits.offMin} },
		value: func(at []int) int64 { return -int64(m.count(at).changed) },
	})
}

func (m *model) fewestOffMin() {
	m.maximise(criterion{
		have: -int64(m.count(m.inc).offMin), best: -int64(m.leastCount(func(v *variable) cost { return v.offMin })),
		with:  func(t int64) ([]bound, limits) { return nil, limits{noLimits.changed, int(-t)} },
		value: func(at []int) int64 { return -int64(m.count(at).offMin) },
	})
}

func (m *model) leastCount(of func(*variable) cost) int {
	n := 0
	for i, v := range m.vars {
		if m.counted[i] {
			n += of(v).least(int(m.root.lo[i]), int(m.root.hi[i]))
		}
	}
	return n
}

package estimate

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"delaybook/domain/adjust"
	"delaybook/domain/exact"
)

// Latency answers a query. A latency that is not determined is an answer, not an
// error; an *InputError says that the query names something that is not there.
func (s *Solution) Latency(q LatencyQuery) (Latency, error) {
	mode := s.network.catalogue.modes[[2]string{q.Device, q.Mode}]
	if mode == nil {
		return Latency{}, fault("Device", "a device and mode of the book", "there is no device %q in mode %q", q.Device, q.Mode)
	}
	if q.Signal != Picture && q.Signal != Sound {
		return Latency{}, fault("Signal", `"picture" or "sound"`, "%q is no signal", q.Signal)
	}
	l := Latency{Device: q.Device, Mode: q.Mode, Signal: q.Signal}
	if slices.Contains(mode.Direct, q.Signal) {
		l.Direct, l.Determined = true, true
		return l, nil
	}
	name := columnName(q.Device, q.Mode, q.Signal)
	c := s.network.of[name]
	if c == nil {
		l.Advice = "Nothing was measured or stated of it: measure a pair that passes it."
		return l, nil
	}
	s.countRows(&l, c, name)
	if c.system.Knows(c.fixed[name]) == exact.Known {
		err := s.determine(&l, name)
		return l, err
	}
	return l, s.combine(&l, c, name)
}

func (s *Solution) countRows(l *Latency, c *component, name string) {
	rigs := map[string]bool{}
	for _, o := range c.rows {
		if _, ok := o.pair.columns()[name]; ok {
			for _, t := range o.takings {
				l.Measurements = append(l.Measurements, t.m.ID)
			}
			rigs[o.pair.rig.slug()] = true
		}
	}
	l.Rigs = len(rigs)
}

// determine fills in a latency that the rows fix.
func (s *Solution) determine(l *Latency, name string) (err error) {
	l.Determined = true
	f := s.find(wanted{columns: map[string]int{name: 1}})
	if l.Estimate, err = s.estimate(f.sum, 0); err != nil {
		return err
	}
	next := f.sum.Clone()
	s.addClass(next, unitClassOf(s.network.catalogue.devices[l.Device].Kind), 1)
	s.addClass(next, class{lockedClass, usualPrior, usualNu}, 1)
	if l.Next, err = s.estimate(next, 0); err != nil {
		return err
	}
	if l.Estimate.ValueMS+2*l.Estimate.SEMS < 0 {
		l.Flags = append(l.Flags, FlagNegative)
	}
	return nil
}

// combine fills in a latency that is known only together with others, or not at all.
func (s *Solution) combine(l *Latency, c *component, name string) error {
	shares, err := c.system.OnlyWith(c.fixed[name])
	if err != nil {
		return fmt.Errorf("latency of %s: %w", name, err)
	}
	if len(shares) == 0 {
		l.Advice = "Nothing ties it to a known latency: measure a pair that passes it."
		return nil
	}
	var terms []adjust.Term
	for _, share := range shares {
		column := c.names[share.Column]
		if col, ok := c.solved[column]; ok {
			terms = append(terms, adjust.Term{Column: col, Coef: share.Coef.Float()})
		}
		if column != name {
			l.OnlyWith = append(l.OnlyWith, termOf(column, share.Coef.Float()))
		}
	}
	p := s.parts[c]
	sum := adjust.NewContrast(len(s.params))
	sum.Add(p.state.Contrast(terms).Spread(p.params, len(s.params)))
	if l.Combination, err = s.estimate(sum, 0); err != nil {
		return err
	}
	if len(l.OnlyWith) == 1 && l.OnlyWith[0].Coef == 1 {
		l.Bounds = &[2]float64{0, math.Max(0, l.Combination.ValueMS+2*l.Combination.SEMS)}
	}
	l.Advice = "It is known only together with others: a stated value of one of them, or a rig that passes it without them, would separate it."
	return nil
}

// termOf reads a column name back; a card source takes the place of a device.
func termOf(column string, coef float64) Term {
	if isCard(column) {
		return Term{Coef: coef, Device: column}
	}
	device, rest, _ := strings.Cut(column, "/")
	i := strings.LastIndex(rest, "/")
	return Term{Coef: coef, Device: device, Mode: rest[:i], Signal: Signal(rest[i+1:])}
}

// Latencies returns every latency that a measurement or a stated value mentions,
// in order of device, mode and signal.
func (s *Solution) Latencies() []LatencyQuery {
	var out []LatencyQuery
	for _, name := range slices.Sorted(maps.Keys(s.network.of)) {
		if !isCard(name) {
			t := termOf(name, 1)
			out = append(out, LatencyQuery{Device: t.Device, Mode: t.Mode, Signal: t.Signal})
		}
	}
	return out
}

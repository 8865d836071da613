package estimate

import (
	"maps"
	"math"

	"delaybook/domain/adjust"
	"delaybook/domain/law"
)

// Offset answers a query. An offset that is not determined is an answer, not an
// error; an *InputError says that the query names something that is not there.
func (s *Solution) Offset(q OffsetQuery) (Offset, error) {
	p, err := s.network.catalogue.pair(q.Rig, q.First, q.Second, q.Destination, "")
	if err != nil {
		return Offset{}, err
	}
	set, err := p.settings(q.Settings, "")
	if err != nil {
		return Offset{}, err
	}
	if q.Limit != nil && !(q.Limit.EarlyMS >= 0 && q.Limit.LateMS >= 0) {
		return Offset{}, fault("Limit", "two bounds of 0 or more, in ms", "%v early and %v late is no limit", q.Limit.EarlyMS, q.Limit.LateMS)
	}
	o := Offset{Rig: q.Rig, First: q.First, Second: q.Second, Destination: p.destination, Class: p.class().name}
	w := wantedOf(p)
	if o.Missing = s.missing(w); len(o.Missing) > 0 {
		o.Basis = BasisUnknown
		if err := s.assume(&o, p, w); err != nil {
			return Offset{}, err
		}
		o.Why = s.whyUnknown(&o)
		return o, nil
	}
	f := s.find(w)
	shift := s.shift(p)
	if o.Estimate, err = s.estimate(f.sum, shift); err != nil {
		return Offset{}, err
	}
	if err := s.countAll(&o, w, shift); err != nil {
		return Offset{}, err
	}
	next := f.sum.Clone()
	s.addPowerUp(next, p)
	if o.Next, err = s.estimate(next, shift); err != nil {
		return Offset{}, err
	}
	dialled, _ := p.dialled(set)
	o.Outcome = outcome(o.Next, o.Estimate.ValueMS+dialled, q.Limit)
	o.Scatter = f.scatter(s)
	s.evidence(&o, f, p)
	s.flagOffset(&o, f)
	o.Why = s.why(&o, p)
	return o, nil
}

// sameMS is how far two estimates may lie apart and still be shown as one, ms.
const sameMS = 1e-3

// countAll adds the other answer: the one with doubtful measurements in full.
func (s *Solution) countAll(o *Offset, w wanted, shift float64) error {
	f := s.findAll(w)
	if f == nil {
		return nil
	}
	e, err := s.estimate(f.sum, shift)
	if err != nil {
		return err
	}
	if math.Abs(e.ValueMS-o.Estimate.ValueMS) > sameMS {
		o.WithDoubtful = e
	}
	return nil
}

func wantedOf(p *pair) wanted {
	w := wanted{columns: maps.Clone(p.columns())}
	w.units, w.kinds = p.units()
	return w
}

// shift is what is known of an offset: half a frame per free picture stage, and
// the air of its sound at 20 degrees.
func (s *Solution) shift(p *pair) float64 {
	return meanPhase(p.phases()) - airMS(p.air(nil), usualAirC)
}

// addPowerUp adds what one more power-up adds to the mean: its scatter, its
// phases, and the spread of clips that is carried.
func (s *Solution) addPowerUp(c *adjust.Contrast, p *pair) {
	s.addClass(c, p.class(), 1)
	if p.class().name != freeClass || s.network.registry.phase() == PhaseKnown {
		for _, ph := range p.phases() {
			w := math.Abs(float64(ph.sign)) * ph.frameMS
			c.AddKnown(uniformVariance(w), uniformKappa(w))
		}
	}
	c.AddKnown(s.network.carried(p), 0)
}

// carried is the mean square of the event spreads above EventSDCarried of the
// clips of a pair.
func (n *network) carried(p *pair) float64 {
	sum, count := 0.0, 0
	for _, o := range n.ofPair[p.key()] {
		for _, t := range o.takings {
			if sd := t.m.EventSDMS; t.m.Method == Clip && sd > EventSDCarried {
				sum += sd * sd
				count++
			}
		}
	}
	return sum / float64(max(1, count))
}

// outcome compares what settings leave with a limit, bounds included.
func outcome(next *Estimate, after float64, limit *Limit) *Outcome {
	out := &Outcome{AfterMS: after}
	if limit != nil {
		window := law.Window{Early: limit.EarlyMS, Late: limit.LateMS}
		out.Chance = next.Law.Chance(after, window)
		out.Verdict = Verdict(window.Judge(after, next.Law.HalfWidth95()))
	}
	return out
}

func (s *Solution) flagOffset(o *Offset, f *found) {
	largest, unnamed := f.cardShare()
	if largest > f.sum.Variance/2 {
		o.Flags = append(o.Flags, FlagCardAssumed)
	}
	if unnamed {
		o.Flags = append(o.Flags, FlagCardUnnamed)
	}
	if o.Class == freeClass {
		switch s.network.registry.phase() {
		case PhaseRejected:
			o.Flags = append(o.Flags, FlagPhaseRejected)
		case PhaseAbsent:
			o.Flags = append(o.Flags, FlagLooksLocked)
		}
	}
}

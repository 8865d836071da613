package estimate

import (
	"cmp"
	"time"
)

// An observation is a row of the adjustment: one measurement, or several that
// were merged.
type observation struct {
	takings []*taking
	share   []float64 // of each taking's mean in the value; the sum is 1
	pair    *pair
	y       float64 // offset with dials, air and mean phase taken out, ms

	reading   float64 // known variance of reading: uncertainties, disagreement, temperature, drift
	rounding  float64 // known variance of counting in frames
	walked    float64 // known variance of a phase that moved
	kappa     float64
	n, df, ss float64 // of a list: values, and the scatter inside it

	take     class
	read     string // variance class of the list, or empty
	card     string // card column, or empty
	eyeLevel string // column of the rounding that stays, or empty
	frameMS  float64
	phases   []phase
	disagree bool
	merged   []string // the IDs of takings, if there are several
}

func (o *observation) first() *taking     { return o.takings[0] }
func (o *observation) id() string         { return o.takings[0].m.ID }
func (o *observation) takenAt() time.Time { return o.takings[0].m.TakenAt }
func (o *observation) knownVar() float64  { return o.reading + o.rounding + o.walked }
func (o *observation) powerUp() string    { return o.pair.rig.slug() + "\x00" + o.first().m.PowerUp }

// observe collapses a merged group. free says what the class test made of the
// free phase.
func observe(group []*taking, own map[string]Variance, free PhaseRule) *observation {
	t := group[0]
	o := &observation{takings: group, pair: t.pair, take: t.pair.class(), n: 1}
	if v, ok := own[ownClass+t.m.ID]; ok && len(group) == 1 {
		o.take = class{v.Class, v.PriorMS2, v.NuPrior}
	}
	all := t.pair.phases()
	if t.pair.class().name != freeClass || free == PhaseKnown {
		o.phases = all
	}
	switch t.style {
	case counted:
		o.count()
	case weighted:
		o.weigh()
	default:
		o.list()
	}
	if len(group) == 1 {
		o.share = whole
	} else {
		o.merged = names(group)
	}
	o.reading += sharedVariance(group)
	o.y -= meanPhase(all)
	o.card = o.cardColumn()
	return o
}

// whole is the share of a taking that was merged with no other.
var whole = []float64{1}

// ids names the measurements of the row. They are named once for all: an answer
// asks for each of its measurements.
func (o *observation) ids() []string {
	if o.merged != nil {
		return o.merged
	}
	return names(o.takings)
}

func names(group []*taking) []string {
	out := make([]string, len(group))
	for i, t := range group {
		out[i] = t.m.ID
	}
	return out
}

// sharedVariance is what all readings of a group have in common: the air, of
// which one unknown temperature is enough, and the drift of a measurement.
func sharedVariance(group []*taking) float64 {
	air, drift := 0.0, 0.0
	for _, t := range group {
		air, drift = max(air, t.airK), drift+t.drift.variance
	}
	return air + drift
}

// count takes the mean of readings in frames. They share the phase of their
// power-up, so that their number does not count.
func (o *observation) count() {
	t := o.first()
	var raw, values []float64
	for _, t := range o.takings {
		for _, v := range t.values {
			raw, values = append(raw, v), append(values, v+t.known)
		}
	}
	n := float64(len(values))
	for _, t := range o.takings {
		o.share = append(o.share, float64(len(t.values))/n)
	}
	frame := t.recorded.FrameMS()
	o.frameMS = frame
	mean, ss, _ := spread(values)
	_, _, width := spread(raw)
	o.y = mean
	if width > frame*(1+1e-9) {
		o.disagree = true
		o.reading += ss / (n * (n - 1))
	}
	o.round(t, frame)
}

// round adds the error of counting whole frames. On one side it is the same
// each time as long as nothing moves, so that it becomes a level; a free phase
// moves it from power-up to power-up.
func (o *observation) round(t *taking, frame float64) {
	unknown, free := o.pair.timings()
	level := false
	rounds := 0.0
	switch cmp.Or(t.m.Eye, EyeUnknown) {
	case BothSides:
		rounds = 2
	case OneSide:
		if level = unknown || !free; !level {
			rounds = 1
		}
	default:
		level, rounds = true, 1
	}
	o.rounding += rounds * uniformVariance(frame)
	o.kappa += rounds * uniformKappa(frame)
	if level {
		o.eyeLevel = o.pair.stages + "|" + string(t.m.Method) + "|" + t.recorded.String()
	}
}

// weigh takes the mean of values of known uncertainty u with weights 1/u^2.
func (o *observation) weigh() {
	total := 0.0
	for _, t := range o.takings {
		sum := 0.0
		for i, v := range t.values {
			w := 1 / (t.us[i] * t.us[i])
			sum += w
			o.y += w * (v + t.known)
		}
		o.share = append(o.share, sum)
		total += sum
	}
	o.y /= total
	for i := range o.share {
		o.share[i] /= total
	}
	o.reading += 1 / total
}

// list keeps mean, number and scatter of values without uncertainty.
func (o *observation) list() {
	var values []float64
	for _, t := range o.takings {
		for _, v := range t.values {
			values = append(values, v+t.known)
		}
	}
	o.n = float64(len(values))
	for _, t := range o.takings {
		o.share = append(o.share, float64(len(t.values))/o.n)
	}
	o.y, o.ss, _ = spread(values)
	o.df = o.n - 1
	if d := o.first().drift; d.found {
		o.ss, o.df = d.residual, o.n-2
	}
	o.read = readClass + string(o.first().m.Method)
}

// The column of a card source: named ones belong to the book, unnamed ones to a
// rig.
const (
	namedCard   = "card source "
	unnamedCard = "unnamed card source of rig "
)

// cardColumn is set where a card was shown and the two signals differ.
func (o *observation) cardColumn() string {
	m := o.first().m
	if m.Method == Clap || m.Method == Tracks || o.pair.first.signal == o.pair.second.signal {
		return ""
	}
	if m.CardSource == "" {
		return unnamedCard + o.pair.rig.slug()
	}
	return namedCard + m.CardSource
}

// walkPhases sets the walk of every phase since it was first measured in its
// power-up. Rows that were seen before are replaced, not changed.
func walkPhases(all []*observation) {
	first := map[phaseNode]time.Time{}
	for _, o := range all {
		for _, ph := range o.phases {
			node := o.phaseNode(ph)
			if at, ok := first[node]; !ok || o.takenAt().Before(at) {
				first[node] = o.takenAt()
			}
		}
	}
	for i, o := range all {
		sum := 0.0
		for _, ph := range o.phases {
			sum += walk(ph.frameMS, o.takenAt().Sub(first[o.phaseNode(ph)]))
		}
		if sum != o.walked {
			moved := *o
			moved.walked = sum
			all[i] = &moved
		}
	}
}

// A phaseNode is what observations of one phase have in common: the power-up of
// a rig and the clock.
type phaseNode struct{ rig, powerUp, clock string }

func (o *observation) phaseNode(ph phase) phaseNode {
	return phaseNode{o.pair.rig.slug(), o.first().m.PowerUp, ph.clock}
}

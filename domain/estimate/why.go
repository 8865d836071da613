package estimate

import (
	"fmt"
	"math"
	"strings"
)

// why says in one sentence, for people, what keeps measurements of an offset
// apart and whether more of them would help.
func (s *Solution) why(o *Offset, p *pair) string {
	switch o.Basis {
	case BasisStated:
		return "Nobody measured it: it rests on stated values alone."
	case BasisPredicted:
		return "Nobody measured this pair: it is put together from measurements of other pairs." + s.help(o, p)
	}
	largest, text := 0.0, "It is as sure as the readings allow."
	for _, part := range []struct {
		ms   float64
		text string
	}{
		{o.Scatter.CardSourceMS, "The card's own offset is only assumed: one hand clap at this pair would settle it."},
		{o.Scatter.QuantisationMS, "Readings by eye are whole frames: a recording of the card, analysed, would narrow it most."},
		{o.Scatter.PhaseMS, s.phaseText(o, p)},
		{o.Scatter.UnitMS, "Units of one device differ a little: a measurement with these very units would narrow it."},
		{o.Scatter.StatedMS, "It leans on stated values: a measurement of this pair would narrow it."},
		{o.Scatter.OtherMS, s.otherText(o, p)},
	} {
		if part.ms > largest {
			largest, text = part.ms, part.text
		}
	}
	return text
}

func (s *Solution) phaseText(o *Offset, p *pair) string {
	return "The camera runs free: each power-up lands anywhere within one frame." + s.help(o, p)
}

func (s *Solution) otherText(o *Offset, p *pair) string {
	if strings.HasPrefix(o.Class, unknownClass) {
		return "It is not known whether the camera runs free, so each power-up may land anywhere within one frame: " +
			"say house or free in the rig, or measure after more power-ups."
	}
	if strings.HasPrefix(o.Class, variesClass) {
		return "The delay differs from connection to connection: only a measurement of this connection holds for it."
	}
	if o.PowerUps == 1 {
		return "It was measured in one power-up: how much power-ups differ is assumed, not measured." + s.help(o, p)
	}
	return "Measurements differ a little from power-up to power-up." + s.help(o, p)
}

// help says what two more power-ups would do for the mean, or that nothing does
// much for the next one.
func (s *Solution) help(o *Offset, p *pair) string {
	half := (o.Estimate.Interval[1] - o.Estimate.Interval[0]) / 2
	one := s.freshVariance(p) + usualPrior // read by a recording
	v := o.Estimate.SEMS * o.Estimate.SEMS
	if !(v > 0) {
		return ""
	}
	after := half * math.Sqrt(1/(1+2*v/one))
	if after > 0.95*half {
		return " More measurements would hardly narrow it."
	}
	return fmt.Sprintf(" Two more power-ups would narrow this to %.0f ms either way.", math.Max(1, after))
}

// freshVariance is the variance that one more power-up brings to a measurement,
// however it is read.
func (s *Solution) freshVariance(p *pair) float64 {
	v := s.network.registry.variance(p.class()).MS2
	if p.class().name != freeClass || s.network.registry.phase() == PhaseKnown {
		for _, ph := range p.phases() {
			v += uniformVariance(ph.frameMS) * float64(ph.sign*ph.sign)
		}
	}
	return v
}

// whyUnknown says what is missing and what would fix it.
func (s *Solution) whyUnknown(o *Offset) string {
	if a := o.Assumed; a != nil {
		return fmt.Sprintf("%s was never measured as %s; the range is taken over from %s, from the same in ms to the same in frames. Measure it once.",
			a.Device, a.Mode, a.From)
	}
	return fmt.Sprintf("It cannot be predicted: nothing tells the delay of %s. Measure this pair once.", enumerate(o.Missing))
}

// enumerate names latencies for people.
func enumerate(names []string) string {
	const most = 3
	var out []string
	for _, name := range names[:min(most, len(names))] {
		t := termOf(name, 1)
		out = append(out, fmt.Sprintf("the %s through %s (%s)", t.Signal, t.Device, t.Mode))
	}
	if len(names) > most {
		out = append(out, fmt.Sprintf("%d more", len(names)-most))
	}
	return strings.Join(out, ", ")
}

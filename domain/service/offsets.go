package service

import (
	"context"
	"math"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/estimate"
)

// An Offset is what is known of the offset of two chains at a destination, with
// every control at zero delay.
type Offset struct {
	First       domain.Slug
	Second      domain.Slug
	Destination domain.Slug
	Importance  domain.Importance // empty for a comparison that is no pair
	estimate.Offset
	Measurements int      // with a weight in it that the caller may see
	PowerUps     int      // of those
	DriftPPM     *float64 // the fastest drift in a measurement behind it that the caller may see, millionths; nil: none drifts
	Evidence     []Evidence
}

// Evidence is one fact that an offset rests on, as one caller may see it.
type Evidence struct {
	Measurement string // identifier; empty if it is something else
	Rig         string // CREW.SLUG of the measurement's rig
	Stated      string
	CardSource  string
	Hidden      bool    // all measurements on rigs that the caller may not see, as one
	WeightMS    float64 // by how much the offset moves per ms of this entry
	Share       float64 // its part of all weights, 0 to 1
	Doubtful    bool
}

// A RigOffsets is the offsets of a rig.
type RigOffsets struct {
	Rig     RigView
	Offsets []Offset
}

// Offsets returns the offset of every pair of a rig at every destination.
func (s *Service) Offsets(ctx context.Context, r Request, name string) (RigOffsets, error) {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return RigOffsets{}, err
	}
	rig, err := r.Caller.rig(b, name)
	if err != nil {
		return RigOffsets{}, err
	}
	solution, err := s.solution(b)
	if err != nil {
		return RigOffsets{}, err
	}
	out := RigOffsets{Rig: showRig(b, rig)}
	for _, p := range rig.Current().Layout.JudgedPairs() {
		o, err := solution.Offset(offsetQuery(rig, p.Picture, p.Sound, p.Destination))
		if err != nil {
			return RigOffsets{}, err
		}
		shown := showOffset(b, r.Caller, solution, o)
		shown.Importance = p.Importance
		out.Offsets = append(out.Offsets, shown)
	}
	return out, nil
}

func offsetQuery(rig *book.Rig, first, second, destination domain.Slug) estimate.OffsetQuery {
	return estimate.OffsetQuery{
		Rig: rigKey(rig.ID, rig.Current().Number), First: string(first), Second: string(second), Destination: string(destination),
	}
}

// offsetOf returns the offset of the chains that a measurement compared, as
// they are in the latest revision; nil if they are no longer there.
func (s *Service) offsetOf(ctx context.Context, b *book.Book, c Caller, rig *book.Rig, m *domain.Measurement) (*Offset, error) {
	layout := &rig.Current().Layout
	if !stillThere(layout, m) {
		return nil, nil
	}
	solution, err := s.solution(b)
	if err != nil {
		return nil, err
	}
	o, err := solution.Offset(offsetQuery(rig, m.First, m.Second, m.ReadAt))
	if err != nil {
		return nil, err
	}
	shown := showOffset(b, c, solution, o)
	for _, p := range rig.Current().Layout.JudgedPairs() {
		if p.Picture == m.First && p.Sound == m.Second && p.Destination == shown.Destination {
			shown.Importance = p.Importance
		}
	}
	return &shown, nil
}

func stillThere(l *domain.Layout, m *domain.Measurement) bool {
	_, destination := l.Destination(m.ReadAt)
	return destination && carries(l, m.First, m.FirstSig) && carries(l, m.Second, m.SecondSig)
}

// showOffset names and counts the evidence, and folds what the caller may not
// see into one entry with its total weight.
func showOffset(b *book.Book, c Caller, solution *estimate.Solution, o estimate.Offset) Offset {
	shown := Offset{
		First: domain.Slug(o.First), Second: domain.Slug(o.Second), Destination: domain.Slug(o.Destination), Offset: o,
	}
	hidden := Evidence{Hidden: true}
	powerUps := map[domain.PowerUpID]bool{}
	for _, e := range o.Evidence {
		entry := Evidence{
			Measurement: e.Measurement, Stated: e.Stated, CardSource: e.CardSource,
			WeightMS: e.Weight, Share: e.Share, Doubtful: e.Doubtful,
		}
		if e.Measurement != "" {
			m, rig, _ := b.Measurement(domain.MeasurementID{UUID: mustID(e.Measurement)})
			if !c.sees(rig) {
				hidden.WeightMS += e.Weight
				hidden.Share += e.Share
				continue
			}
			if !e.Doubtful {
				shown.Measurements++
				powerUps[m.PowerUp] = true
			}
			entry.Rig = rigName(b, rig)
			if report, ok := solution.Report(e.Measurement); ok {
				shown.drifts(report)
			}
		}
		shown.Evidence = append(shown.Evidence, entry)
	}
	shown.PowerUps = len(powerUps)
	if hidden.Share > 0 {
		shown.Evidence = append(shown.Evidence, hidden)
	}
	return shown
}

// drifts takes note of the drift within a measurement.
func (o *Offset) drifts(report estimate.Report) {
	if report.DriftMSPerMin == 0 {
		return
	}
	ppm := report.DriftMSPerMin * 1e6 / float64(time.Minute.Milliseconds())
	if o.DriftPPM == nil || math.Abs(ppm) > math.Abs(*o.DriftPPM) {
		o.DriftPPM = &ppm
	}
}

func rigName(b *book.Book, rig *book.Rig) string {
	crew, _ := b.Crew(rig.Crew)
	return string(crew.Slug) + "." + string(rig.Slug)
}

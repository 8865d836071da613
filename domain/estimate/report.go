package estimate

import (
	"math"
	"slices"
	"strings"

	"delaybook/domain/adjust"
)

// detectable is the smallest error, in standard deviations of a deleted
// residual, that is found with 80 % at a level of 0.1 %: 3.290527 + 0.841621
// (W. Baarda, A testing procedure for use in geodetic networks, 1968).
const detectable = 4.132148

// Report says what became of a measurement; false if the book has none of that ID.
func (s *Solution) Report(id string) (Report, bool) {
	at, ok := s.places()[id]
	if !ok {
		return Report{}, false
	}
	return s.report(at), true
}

// A place is where a measurement stands: a taking of a row of a block.
type place struct {
	component          *component
	block, row, taking int
}

// findPlaces finds the places of all measurements by ID.
func (n *network) findPlaces() map[string]place {
	out := make(map[string]place, len(n.all))
	for _, c := range n.components {
		for b, rows := range c.blocks {
			for t, i := range rows {
				for k, taking := range c.rows[i].takings {
					out[taking.m.ID] = place{c, b, t, k}
				}
			}
		}
	}
	return out
}

// Reports returns what became of every measurement, in order of ID.
func (s *Solution) Reports() []Report {
	out := make([]Report, 0, len(s.places()))
	for _, at := range s.places() {
		out = append(out, s.report(at))
	}
	slices.SortFunc(out, func(a, b Report) int { return strings.Compare(a.ID, b.ID) })
	return out
}

func (s *Solution) report(at place) Report {
	o := at.component.rows[at.component.blocks[at.block][at.row]]
	part := s.parts[at.component]
	d, modelRow := part.deleted[at.block][at.row], &part.model.Blocks[at.block].Rows[at.row]
	t := o.takings[at.taking]
	r := Report{ID: t.m.ID, Merged: o.ids(), Class: o.take.name, KnownMS: t.known, Uncheckable: d.Uncheckable, DetectableMS: math.Inf(1)}
	r.RawMS, _, _ = spread(t.values)
	r.PredictedMS = r.RawMS
	if !d.Uncheckable {
		r.DeletedMS, r.StandardMS, r.Ratio = d.Residual, d.SD, d.Ratio
		// The residual is of the merged row: it holds for each of its parts.
		r.PredictedMS, r.DetectableMS = r.RawMS-d.Residual, detectable*d.SD
	}
	if o.disagree {
		r.Flags = append(r.Flags, FlagReadingsDisagree)
	}
	if t.drift.found {
		r.Flags = append(r.Flags, FlagDrift)
		r.DriftMSPerMin = 60 * t.drift.perSecond
	}
	if modelRow.Outside {
		r.Doubtful = true
		r.Flags = append(r.Flags, FlagDoubtful)
		if r.Cause = s.cause(t, d); r.Cause != "" {
			r.Flags = append(r.Flags, r.Cause)
		}
	}
	return r
}

// explained is the ratio of a deleted residual that a cause must leave.
const explained = 2

// cause names the slip that would explain a doubtful measurement, the likeliest
// kind first; empty if none does.
func (s *Solution) cause(t *taking, d adjust.Deleted) string {
	raw, _, _ := spread(t.values)
	fits := func(should float64) bool { return math.Abs(d.Residual+should-raw)/d.SD < explained }
	switch {
	case fits(-raw):
		return CauseSign
	case fitsRate(t, raw, fits):
		return CauseFrameRate
	case fits(raw*1000) || fits(raw/1000):
		return CauseSeconds
	case t.style == counted && (fits(raw*2) || fits(raw/2)):
		return CauseInterlaced
	case s.fitsStep(t, raw, fits):
		return CauseControlStep
	case s.fitsDestination(t, raw, fits):
		return CauseDestination
	case fitsFrames(t, raw, fits):
		return CauseWholeFrames
	}
	return ""
}

// customary are the frame rates that are mixed up in practice.
var customary = []float64{24000.0 / 1001, 24, 25, 30000.0 / 1001, 30, 50, 60000.0 / 1001, 60}

// fitsRate reports whether another rate than the recording's explains a count of
// frames.
func fitsRate(t *taking, raw float64, fits func(float64) bool) bool {
	if t.style != counted {
		return false
	}
	for _, other := range customary {
		ratio := t.recorded.Float() / other
		if double := math.Abs(ratio-2) < 1e-9 || math.Abs(ratio-0.5) < 1e-9; !double && math.Abs(ratio-1) > 1e-9 && fits(raw*ratio) {
			return true
		}
	}
	return false
}

// wholeFrames is how many frames a slip may be.
const wholeFrames = 10

func fitsFrames(t *taking, raw float64, fits func(float64) bool) bool {
	for k := 1.0; k <= wholeFrames; k++ {
		if shift := k * t.recorded.FrameMS(); fits(raw+shift) || fits(raw-shift) {
			return true
		}
	}
	return false
}

// fitsStep reports whether a dial whose steps are half or twice as long as
// declared, or that was not engaged, explains the measurement.
func (s *Solution) fitsStep(t *taking, raw float64, fits func(float64) bool) bool {
	set, err := t.pair.settings(t.m.Settings, "")
	if err != nil {
		return false
	}
	found := false
	t.pair.sides(func(l *link, sign int) {
		for i := range l.dials {
			delay := l.dials[i].delay(set[l.dials[i].name])
			for _, factor := range []float64{0, 0.5, 2} {
				// What was read holds sign*factor*delay; it should hold sign*delay.
				if delay != 0 && fits(raw+float64(sign)*(1-factor)*delay) {
					found = true
				}
			}
		}
	})
	return found
}

// fitsDestination reports whether the offset at another destination of the rig
// explains the measurement.
func (s *Solution) fitsDestination(t *taking, raw float64, fits func(float64) bool) bool {
	here, err := s.Offset(OffsetQuery{Rig: t.m.Rig, First: t.m.First, Second: t.m.Second, Destination: t.pair.destination})
	if err != nil || here.Estimate == nil {
		return false
	}
	for _, d := range t.pair.rig.Destinations {
		if d.Slug == t.pair.destination {
			continue
		}
		there, err := s.Offset(OffsetQuery{Rig: t.m.Rig, First: t.m.First, Second: t.m.Second, Destination: d.Slug})
		if err == nil && there.Estimate != nil && fits(raw+here.Estimate.ValueMS-there.Estimate.ValueMS) {
			return true
		}
	}
	return false
}

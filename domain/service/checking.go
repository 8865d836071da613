package service

import (
	"context"
	"slices"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/plan"
)

// A Check is what a measurement made with a plan dialled in says of it.
type Check struct {
	AfterMS  float64 // what was read: the offset that remains
	Inside   bool    // it lies in the limit
	Chance   float64 // that the next power-up does, with the measurement in
	Surprise string  // why it does not fit what was predicted; empty if it does
	Delays   *Delays // what to set now, with the measurement in
}

// checkOf returns what a measurement says of the plan that was dialled in when
// it was made; nil if it was not made with one, or compares no judged pair.
func (s *Service) checkOf(ctx context.Context, b *book.Book, rig *book.Rig, m *domain.Measurement) (*Check, error) {
	if m.FirstSig != domain.Picture || m.SecondSig != domain.Sound || !isCheck(rig, m) {
		return nil, nil
	}
	delays, err := s.delaysOf(ctx, b, rig, "")
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(delays.Pairs, func(p DelayPair) bool {
		return p.Picture == m.First && p.Sound == m.Second && p.Destination == m.ReadAt
	})
	if i < 0 {
		return nil, nil
	}
	pair := delays.Pairs[i]
	check := &Check{AfterMS: meanMS(m.Readings), Chance: pair.Chance, Delays: delays}
	check.Inside = pair.Limit.Contains(check.AfterMS)
	solution, err := s.solution(b)
	if err != nil {
		return nil, err
	}
	if report, ok := solution.Report(m.ID.String()); ok {
		check.Surprise = surprise(report.Doubtful, report.Cause)
	}
	return check, nil
}

func meanMS(readings []domain.Reading) float64 {
	sum := 0.0
	for i := range readings {
		sum += readings[i].OffsetMS
	}
	return sum / float64(len(readings))
}

// isCheck reports whether a measurement was made with the plan applied last
// before it dialled in.
func isCheck(rig *book.Rig, m *domain.Measurement) bool {
	applied := appliedAt(rig, m.TakenAt)
	if applied == nil || len(m.Settings) == 0 {
		return false
	}
	for _, set := range m.Settings {
		if !slices.ContainsFunc(applied.Values, func(v domain.Setting) bool {
			return v.Control == set.Control && v.Value.Equal(set.Value)
		}) {
			return false
		}
	}
	return true
}

// appliedAt returns the settings in force at an instant if they are an applied
// plan, else nil.
func appliedAt(rig *book.Rig, at time.Time) *domain.SettingsInForce {
	if row := settingsAt(rig, at); row != nil && row.Plan != 0 {
		return row
	}
	return nil
}

// A RigState says in a word how a rig stands.
type RigState string

// The states of a rig.
const (
	RigInside    RigState = "inside"        // every hard pair, by what the next power-up may give
	RigOutside   RigState = "outside"       // a hard pair
	RigUndecided RigState = "undecided"     // neither
	RigUnchecked RigState = "never-checked" // no measurement was made with a plan dialled in
	RigStale     RigState = "stale"         // changed since the last check
)

// RigStates lists every state of a rig.
func RigStates() []RigState {
	return []RigState{RigInside, RigOutside, RigUndecided, RigUnchecked, RigStale}
}

// A Standing is how a rig stands, and why.
type Standing struct {
	State   RigState
	Delays  *Delays
	LastAt  time.Time      // when the last check was made; zero if never
	Revised bool           // stale: the rig was changed since
	Dialled []DelaySetting // stale: controls that are not recorded at what the plan says
}

// Standing returns how a rig that a view shows stands.
func (s *Service) Standing(ctx context.Context, v RigView) (Standing, error) {
	delays, err := s.delaysOf(ctx, v.Book, v.Rig, "")
	if err != nil {
		return Standing{}, err
	}
	out := Standing{State: RigUnchecked, Delays: delays}
	last := lastCheck(v.Rig)
	if last == nil {
		return out, nil
	}
	out.LastAt = last.TakenAt
	out.Revised = v.Rig.Current().Number > last.Revision
	out.Dialled = delays.Changes()
	out.State = worst(delays.Pairs)
	if out.Revised || len(out.Dialled) > 0 {
		out.State = RigStale
	}
	return out, nil
}

// State returns the state of a rig that a view shows.
func (s *Service) State(ctx context.Context, v RigView) (RigState, error) {
	last := lastCheck(v.Rig)
	switch {
	case last == nil:
		return RigUnchecked, nil
	case v.Rig.Current().Number > last.Revision:
		return RigStale, nil // without the cost of a plan
	}
	standing, err := s.Standing(ctx, v)
	return standing.State, err
}

func lastCheck(rig *book.Rig) *domain.Measurement {
	var last *domain.Measurement
	for _, m := range rig.Measurements {
		if m.Struck == nil && isCheck(rig, m) && (last == nil || !m.TakenAt.Before(last.TakenAt)) {
			last = m
		}
	}
	return last
}

func worst(pairs []DelayPair) RigState {
	state := RigInside
	for _, p := range pairs {
		if p.Importance != domain.Hard {
			continue
		}
		switch {
		case !p.Known || p.Verdict == "undecided":
			state = RigUndecided
		case p.Verdict == "outside":
			return RigOutside
		}
	}
	return state
}

// Changes returns the settings of a plan that differ from what is dialled in.
func (d *Delays) Changes() []DelaySetting {
	return slices.DeleteFunc(slices.Clone(d.Settings), func(s DelaySetting) bool {
		return s.Now != nil && s.Now.Equal(s.Value)
	})
}

// Feasible reports whether the plan can be dialled in with any use.
func (d *Delays) Feasible() bool { return d.State != plan.Infeasible && d.State != plan.Unknown }

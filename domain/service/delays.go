package service

import (
	"context"
	"fmt"
	"slices"

	"delaybook/domain"
	"delaybook/domain/air"
	"delaybook/domain/book"
	"delaybook/domain/limits"
	"delaybook/domain/plan"

	"github.com/shopspring/decimal"
)

// Delays is the plan of a rig: what to set, and what that gives.
type Delays struct {
	Rig      *book.Rig
	Version  domain.Version // of the book
	Revision int
	State    plan.State
	Settings []DelaySetting
	Pairs    []DelayPair
	Plan     plan.Plan

	Alternatives []plan.Alternative // of an infeasible plan, in the order a crew tries them
	Notes        []plan.Advice      // what the planner can not know: dials that are worth something else now
}

// A DelaySetting is what to set one control to.
type DelaySetting struct {
	plan.Setting
	Placed  domain.PlacedControl
	Control *domain.Control
	Value   decimal.Decimal
	Now     *decimal.Decimal // what is dialled in; nil: not recorded
	Feeds   []domain.Slug    // feeds that it reaches besides
}

// A DelayPair is a pair with the plan dialled in.
type DelayPair struct {
	domain.JudgedPair
	plan.PairResult
	Limit  limits.Limit
	Offset Offset // before the controls
	Seats  []SeatResult
}

// SpareMS is how far what the next power-up may give stays from the nearer bound
// of the limit, ms; negative: how far it may be beyond. It is for a known pair.
func (p *DelayPair) SpareMS() float64 {
	return min(p.Limit.EarlyMS-p.AfterMS, p.AfterMS+p.Limit.LateMS) - p.HalfWidthMS
}

// A SeatResult is what remains of a pair at a seat.
type SeatResult struct {
	Seat    domain.Slug
	AfterMS float64
	Inside  bool
}

// Delays returns the plan of a rig; a limit other than "" judges every
// destination by that one.
func (s *Service) Delays(ctx context.Context, r Request, name, limit string) (*Delays, error) {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	rig, err := r.Caller.rig(b, name)
	if err != nil {
		return nil, err
	}
	if limit != "" {
		var bad domain.Fields
		checkLimit(&bad, b, "limit", limit)
		if err := bad.Err("The limit is not known."); err != nil {
			return nil, err
		}
	}
	return s.delaysOf(ctx, b, rig, limit)
}

// delaysOf returns the plan of a rig, computed once per book. Evidence is
// not part of it, so that it is the same for every caller.
func (s *Service) delaysOf(ctx context.Context, b *book.Book, rig *book.Rig, limit string) (*Delays, error) {
	c := s.answers.of(b)
	key := planKey{rig.ID, limit}
	c.mu.Lock()
	d, ok := c.plans[key]
	c.mu.Unlock()
	if ok {
		return d, nil
	}
	d, err := s.planRig(ctx, b, rig, limit)
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.plans[key] = d
	return d, nil
}

func (s *Service) planRig(ctx context.Context, b *book.Book, rig *book.Rig, limit string) (*Delays, error) {
	solution, err := s.solution(b)
	if err != nil {
		return nil, err
	}
	d := &Delays{Rig: rig, Version: b.Version(), Revision: rig.Current().Number}
	asked := problem(b, rig, limit)
	for _, p := range rig.Current().Layout.JudgedPairs() {
		o, err := solution.Offset(offsetQuery(rig, p.Picture, p.Sound, p.Destination))
		if err != nil {
			return nil, err
		}
		asked.Pairs = append(asked.Pairs, planPair(p, o))
		d.Pairs = append(d.Pairs, DelayPair{JudgedPair: p, Limit: limitOf(b, rig, p.Destination, limit), Offset: Offset{Offset: o}})
	}
	if d.Plan, err = plan.Solve(asked, s.planBudget()); err != nil {
		return nil, err
	}
	if d.Alternatives, err = s.alternatives(b, rig, solution, asked, d.Plan); err != nil {
		return nil, err
	}
	d.Notes = repriced(b, rig)
	d.State = d.Plan.State
	for i := range d.Pairs {
		d.Pairs[i].PairResult = d.Plan.Pairs[i]
		if d.Pairs[i].Seats, err = seatsOf(rig, &d.Pairs[i]); err != nil {
			return nil, err
		}
	}
	d.Settings = delaySettings(b, rig, d.Plan)
	return d, nil
}

// seatsOf returns what remains at the seats of a pair's destination: a longer way
// through the air makes the sound later. The live sound has no loudspeaker.
func seatsOf(rig *book.Rig, p *DelayPair) ([]SeatResult, error) {
	at, _ := rig.Current().Layout.Destination(p.Destination)
	if !p.Known || p.Sound == domain.LiveChain {
		return nil, nil
	}
	room, err := air.At(air.DefaultCelsius)
	if err != nil {
		return nil, err
	}
	var out []SeatResult
	for _, seat := range at.Seats {
		after := p.AfterMS - (seat.AirM-at.AirM)*room.MSPerMetre()
		out = append(out, SeatResult{seat.Slug, after, p.Limit.Contains(after)})
	}
	return out, nil
}

func delaySettings(b *book.Book, rig *book.Rig, p plan.Plan) []DelaySetting {
	layout := &rig.Current().Layout
	var settings []DelaySetting
	for i, placed := range layout.Controls() {
		set := DelaySetting{
			Setting: p.Settings[i], Placed: placed, Control: controlOf(b, placed), Value: decimalOf(p.Settings[i].Value),
		}
		if now, ok := valueNow(b, rig, layout, placed.Use.Name); ok {
			set.Now = &now
		}
		for _, f := range layout.Feeds {
			if slices.Contains(placed.Chains, f.Chain) {
				set.Feeds = append(set.Feeds, f.Slug)
			}
		}
		settings = append(settings, set)
	}
	return settings
}

func limitOf(b *book.Book, rig *book.Rig, destination domain.Slug, override string) limits.Limit {
	slug := domain.Slug(override)
	if override == "" {
		d, _ := rig.Current().Layout.Destination(destination)
		slug = d.Limit
	}
	l, _ := limit(b, slug)
	return l
}

// FormatChanged says that dials kept their value and are worth another delay
// since the frame rate changed.
const FormatChanged plan.AdviceCode = "format-changed"

// repriced says what the dials in force are worth since the rig's frame rate
// changed.
func repriced(b *book.Book, rig *book.Rig) []plan.Advice {
	row := settingsNow(rig)
	if row == nil {
		return nil
	}
	then, ok := rig.Revision(row.Revision)
	now := rig.Current()
	if !ok || then.Layout.FrameRate == now.Layout.FrameRate {
		return nil
	}
	var notes []plan.Advice
	for _, placed := range now.Layout.Controls() {
		c := controlOf(b, placed)
		if c.Unit != domain.UnitFrame || !c.Rate.IsZero() {
			continue
		}
		for _, set := range row.Values {
			if set.Control == placed.Use.Name && !set.Value.IsZero() {
				notes = append(notes, plan.Advice{Code: FormatChanged, Text: fmt.Sprintf(
					"%s at %s frames is now worth %.1f ms, at %s it was worth %.1f ms.", set.Control, set.Value,
					ControlMS(c, now.Layout.FrameRate, set.Value), then.Layout.FrameRate.Label(), ControlMS(c, then.Layout.FrameRate, set.Value))})
			}
		}
	}
	return notes
}

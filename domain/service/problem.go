package service

import (
	"math/big"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/estimate"
	"delaybook/domain/plan"
	"delaybook/domain/timebase"

	"github.com/shopspring/decimal"
)

// problem returns the planning problem of a rig's latest revision without its
// pairs. A control's grid goes over exactly, as rationals.
func problem(b *book.Book, rig *book.Rig, limit string) plan.Problem {
	layout := &rig.Current().Layout
	var p plan.Problem
	for _, placed := range layout.Controls() {
		p.Controls = append(p.Controls, planControl(b, rig, placed))
	}
	for _, c := range layout.Chains {
		p.Chains = append(p.Chains, plan.Chain{Slug: string(c.Slug), Signal: plan.Signal(c.Signal), Controls: names(c.Stages)})
	}
	for _, d := range layout.Destinations {
		l := limitOf(b, rig, d.Slug, limit)
		p.Destinations = append(p.Destinations, plan.Destination{
			Slug: string(d.Slug), Limit: l.Slug, EarlyMS: plan.RatMS(l.EarlyMS), LateMS: plan.RatMS(l.LateMS),
			PictureControls: names(d.Picture), SoundControls: names(d.Sound),
		})
	}
	for _, f := range layout.Feeds {
		p.Feeds = append(p.Feeds, plan.Feed{Slug: string(f.Slug), Chain: string(f.Chain), MaxAddedMS: plan.RatMS(f.MaxAddedMS)})
	}
	return p
}

func names(stages []domain.Stage) []string {
	var out []string
	for _, s := range stages {
		for _, u := range s.Controls {
			out = append(out, string(u.Name))
		}
	}
	return out
}

func planControl(b *book.Book, rig *book.Rig, placed domain.PlacedControl) plan.Control {
	c := controlOf(b, placed)
	layout := &rig.Current().Layout
	out := plan.Control{
		Name: string(placed.Use.Name), Signal: plan.Signal(placed.Signal), Unit: string(c.Unit), UnitMS: unitMS(c, layout.FrameRate),
		Step: c.Step.Rat(), Min: c.Min.Rat(), Max: c.Max.Rat(), EngagedMS: plan.RatMS(c.EngagedMS), Fixed: !c.Ours,
	}
	if placed.Use.Ours != nil {
		out.Fixed = !*placed.Use.Ours
	}
	if now, ok := valueNow(b, rig, layout, placed.Use.Name); ok {
		out.Now = now.Rat()
	}
	return out
}

// unitMS is the length of one unit of a control in ms, exactly.
func unitMS(c *domain.Control, rig timebase.Rate) *big.Rat {
	switch c.Unit {
	case domain.UnitFrame:
		if !c.Rate.IsZero() {
			rig = c.Rate
		}
		return rig.SpanRat(big.NewRat(1, 1))
	case domain.UnitSample:
		return c.SampleRate.SpanRat(1)
	}
	return big.NewRat(1, 1)
}

// ControlMS is the delay of a control at a value, in ms, with what engaging it adds.
func ControlMS(c *domain.Control, rig timebase.Rate, value decimal.Decimal) float64 {
	ms := new(big.Rat).Mul(value.Rat(), unitMS(c, rig))
	if !value.IsZero() {
		ms.Add(ms, plan.RatMS(c.EngagedMS))
	}
	return timebase.Float(ms)
}

// planPair returns a pair with the law of its next power-up; without an
// estimate it has no location.
func planPair(p domain.JudgedPair, o estimate.Offset) plan.Pair {
	out := plan.Pair{
		Picture: string(p.Picture), Sound: string(p.Sound), Destination: string(p.Destination), Importance: plan.Importance(p.Importance),
	}
	if o.Next != nil {
		out.LocationMS = plan.RatMS(o.Next.ValueMS)
		out.Law = o.Next.Law
	}
	return out
}

// planTime is how long a plan may take; beyond it the best found so far is
// given, and said to be not proven.
const planTime = 2 * time.Second

func (s *Service) planBudget() plan.Budget {
	end := s.now().Add(planTime)
	return plan.Budget{Expired: func() bool { return s.now().After(end) }}
}

// decimalOf returns a value on a control's grid, which is always a decimal.
func decimalOf(x *big.Rat) decimal.Decimal {
	d, err := decimal.NewFromString(x.FloatString(maxDecimal))
	if err != nil {
		return decimal.Zero
	}
	return d.Truncate(maxDecimal)
}

package service

import (
	"context"
	"fmt"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/plan"
)

// Copies says what two microphones on one sound do to each other.
type Copies struct {
	Rig         RigView
	First       domain.Slug
	Second      domain.Slug
	Destination domain.Slug
	Known       bool   // the offset of the two is determined
	Why         string // of the offset
	plan.Copies
}

// Copies returns how far two sound chains of a rig are apart, where equal copies
// would cancel, and what would bring them together.
func (s *Service) Copies(ctx context.Context, r Request, name, first, second, destination string) (Copies, error) {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return Copies{}, err
	}
	rig, err := r.Caller.rig(b, name)
	if err != nil {
		return Copies{}, err
	}
	layout := &rig.Current().Layout
	if destination == "" {
		destination = string(layout.Destinations[0].Slug)
	}
	var bad domain.Fields
	a := soundChain(&bad, layout, "first", first)
	c := soundChain(&bad, layout, "second", second)
	at, ok := layout.Destination(domain.Slug(destination))
	bad.Check(ok, "destination", "the rig has no such destination", "one of "+destinationList(layout))
	bad.Check(first != second, "second", "it is the first one", "another sound chain")
	if err := bad.Err("Two sound chains are needed."); err != nil {
		return Copies{}, err
	}
	solution, err := s.solution(b)
	if err != nil {
		return Copies{}, err
	}
	o, err := solution.Offset(offsetQuery(rig, a.Slug, c.Slug, at.Slug))
	if err != nil {
		return Copies{}, err
	}
	out := Copies{Rig: showRig(b, rig), First: a.Slug, Second: c.Slug, Destination: at.Slug, Why: o.Why}
	if o.Estimate == nil {
		return out, nil
	}
	out.Known = true
	out.Copies, err = plan.AlignCopies(copyOf(b, rig, a), copyOf(b, rig, c), plan.RatMS(o.Estimate.ValueMS), s.planBudget())
	return out, err
}

func soundChain(bad *domain.Fields, l *domain.Layout, parameter, slug string) *domain.Chain {
	c, ok := l.Chain(domain.Slug(slug))
	if !ok || c.Signal != domain.Sound {
		bad.Add(parameter, fmt.Sprintf("the rig has no sound chain %q", short(slug)), "one of "+chainList(l, domain.Sound))
		return &domain.Chain{}
	}
	return c
}

// copyOf returns a sound chain with its controls. What stands in the tail delays
// both copies and drops out.
func copyOf(b *book.Book, rig *book.Rig, c *domain.Chain) plan.Copy {
	out := plan.Copy{Name: string(c.Slug)}
	for _, p := range rig.Current().Layout.Controls() {
		for _, chain := range p.Chains {
			if chain == c.Slug {
				out.Controls = append(out.Controls, planControl(b, rig, p))
			}
		}
	}
	return out
}

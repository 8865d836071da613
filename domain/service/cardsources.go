package service

import (
	"context"

	"delaybook/domain"
	"delaybook/domain/book"
)

// NewCardSource is what a statement about a card source needs.
type NewCardSource struct {
	Slug     string
	Name     string
	StatedMS *float64 // light minus sound; nil: 0
	UMS      *float64 // standard uncertainty
	Source   string
}

// AddCardSource states how far light and sound of a card source are apart; a
// later statement replaces an earlier one. A card source that nobody stated
// anything of may be named in measurements all the same. It needs the role editor.
func (s *Service) AddCardSource(ctx context.Context, r Request, in NewCardSource) (*domain.CardSource, error) {
	if err := r.Caller.need(domain.Editor); err != nil {
		return nil, err
	}
	return write(ctx, s, r, func(_ *book.Book, next domain.Version) (draft, error) {
		var bad domain.Fields
		c := domain.CardSource{
			ID: domain.CardSourceID{UUID: s.newID()}, Slug: checkSlug(&bad, "/slug", in.Slug), Version: next,
			Name: checkText(&bad, "/name", in.Name, optional), Source: checkText(&bad, "/source", in.Source, required),
		}
		bad.Check(in.UMS != nil, "/u_ms", "it is missing", "the standard uncertainty in ms")
		checkNumber(&bad, "/u_ms", in.UMS, minU, maxOffsetMS, "an uncertainty in ms")
		checkNumber(&bad, "/stated_ms", in.StatedMS, -maxOffsetMS, maxOffsetMS, "a difference in ms")
		if err := bad.Err("The card source is not valid."); err != nil {
			return draft{}, err
		}
		c.UMS = *in.UMS
		if in.StatedMS != nil {
			c.StatedMS = *in.StatedMS
		}
		return draft{facts: &domain.Facts{CardSources: []domain.CardSource{c}}, subject: in.Slug}, nil
	}, func(b *book.Book, slug string) (*domain.CardSource, error) {
		c, _ := b.CardSource(domain.Slug(slug))
		return c, nil
	})
}

// CardSources returns all that is stated of card sources, in order of slug.
func (s *Service) CardSources(ctx context.Context, r Request) ([]*domain.CardSource, error) {
	if err := r.Caller.need(domain.Reader); err != nil {
		return nil, err
	}
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	return b.CardSources(), nil
}

package service

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/limits"
)

// NewLimit is what a new limit of the company needs.
type NewLimit struct {
	Slug    string
	Name    string
	EarlyMS *float64
	LateMS  *float64
	Source  string
}

// AddLimit adds a limit of the company's own. It needs the role editor.
func (s *Service) AddLimit(ctx context.Context, r Request, in NewLimit) (limits.Limit, error) {
	if err := r.Caller.need(domain.Editor); err != nil {
		return limits.Limit{}, err
	}
	return write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		var bad domain.Fields
		l := domain.Limit{
			ID: domain.LimitID{UUID: s.newID()}, Slug: checkSlug(&bad, "/slug", in.Slug), Version: next,
			Name: checkText(&bad, "/name", in.Name, required), Source: checkText(&bad, "/source", in.Source, optional),
		}
		bad.Check(in.EarlyMS != nil, "/early_ms", "it is missing", "how early the sound may be, in ms")
		bad.Check(in.LateMS != nil, "/late_ms", "it is missing", "how late the sound may be, in ms, as a positive number")
		if in.EarlyMS != nil && in.LateMS != nil {
			for _, f := range limits.CheckBounds(*in.EarlyMS, *in.LateMS) {
				bad.Add("/"+f.Bound+"_ms", f.Detail, f.Send)
			}
		}
		if err := bad.Err("The limit is not valid."); err != nil {
			return draft{}, err
		}
		l.EarlyMS, l.LateMS = *in.EarlyMS, *in.LateMS
		if _, taken := limit(b, l.Slug); taken {
			return draft{}, taken409("/slug", "limit", in.Slug)
		}
		return draft{facts: &domain.Facts{Limits: []domain.Limit{l}}, subject: in.Slug}, nil
	}, func(b *book.Book, slug string) (limits.Limit, error) {
		l, _ := limit(b, domain.Slug(slug))
		return l, nil
	})
}

// Limits returns the published limits and the company's own, in order of slug.
func (s *Service) Limits(ctx context.Context, r Request) ([]limits.Limit, error) {
	if err := r.Caller.need(domain.Reader); err != nil {
		return nil, err
	}
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	all := limits.Published()
	for _, own := range b.Limits() {
		all = append(all, ownLimit(own))
	}
	slices.SortFunc(all, func(a, b limits.Limit) int { return strings.Compare(a.Slug, b.Slug) })
	return all, nil
}

func ownLimit(l *domain.Limit) limits.Limit {
	return limits.Limit{Slug: string(l.Slug), Name: l.Name, EarlyMS: l.EarlyMS, LateMS: l.LateMS, Source: l.Source}
}

// limit finds a published limit or one of the company's own.
func limit(b *book.Book, slug domain.Slug) (limits.Limit, bool) {
	for _, l := range limits.Published() {
		if l.Slug == string(slug) {
			return l, true
		}
	}
	if own, ok := b.Limit(slug); ok {
		return ownLimit(own), true
	}
	return limits.Limit{}, false
}

// checkLimit finds the limit that a request names.
func checkLimit(bad *domain.Fields, b *book.Book, pointer, slug string) limits.Limit {
	l, ok := limit(b, domain.Slug(slug))
	bad.Check(ok, pointer, fmt.Sprintf("there is no limit %q", short(slug)), "the slug of a limit that GET /v1/limits lists, such as ebu-r37")
	return l
}

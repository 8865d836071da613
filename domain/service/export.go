package service

import (
	"context"
	"errors"

	"delaybook/domain"
	"delaybook/domain/exchange"
)

// Export returns every fact of the book, now or as of r.At, with the header of
// the export. It needs the role admin.
func (s *Service) Export(ctx context.Context, r Request) (exchange.Header, *domain.Facts, error) {
	if err := r.Caller.need(domain.Admin); err != nil {
		return exchange.Header{}, nil, err
	}
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return exchange.Header{}, nil, err
	}
	facts, err := s.store.Facts(ctx, 0, b.Point())
	if errors.Is(err, ErrReplaced) {
		if err := s.catchUp(ctx); err != nil {
			return exchange.Header{}, nil, err
		}
		return s.Export(ctx, r)
	}
	return exchange.Header{BookVersion: b.Version(), At: s.now().UTC()}, facts, err
}

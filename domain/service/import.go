package service

import (
	"context"

	"delaybook/domain"
)

// Import makes the facts of an export the book, with their identifiers,
// versions and authors. It needs the role admin and a book in which nothing was
// ever written: a key is a fact too. The keys of the export stay as a record of
// who wrote what and give nobody access, because an export has no hashes.
func (s *Service) Import(ctx context.Context, r Request, facts *domain.Facts) (domain.Version, error) {
	if err := r.Caller.need(domain.Admin); err != nil {
		return 0, err
	}
	err := s.store.Write(ctx, func(tx Tx) error {
		if v := tx.Version(); v != 0 {
			return domain.Errorf(domain.Conflict,
				"The book is not empty: it is at version %d. Import into a new database or data folder, before its first key is made.", v)
		}
		return tx.Restore(ctx, facts)
	})
	if err != nil {
		return 0, err
	}
	return facts.Last(), s.catchUp(ctx)
}

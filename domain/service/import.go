package service

import (
	"context"
	"slices"
	"strconv"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/estimate"
)

// An Imported says what an import made.
type Imported struct {
	Version  domain.Version // of the book after it
	Last     domain.Version // the newest version of the export
	KeptKeys int            // keys, sessions and links that were there before
}

// MayImport returns an error if it is clear before the export was read that
// [Service.Import] would refuse it.
func (s *Service) MayImport(r Request) error {
	if err := r.Caller.need(domain.Admin); err != nil {
		return err
	}
	if b := s.current.Load(); r.Once == "" && !b.HoldsOnlyKeys() {
		return notEmpty(b)
	}
	return nil
}

func notEmpty(b *book.Book) error {
	return domain.Errorf(domain.Conflict,
		"The book is not empty: it is at version %d and holds more than keys. "+
			"Import into a new database or data folder, where there is nothing but keys.", b.Version())
}

// Import puts the facts of an export in the place of a book that holds nothing
// but keys, with their identifiers, versions and authors. It needs the role
// admin.
//
// The keys that were there, with sessions and links, go on as they were, as
// facts of one further version; without any there is no such version. The keys
// of the export stay as a record of who wrote what and give nobody access.
func (s *Service) Import(ctx context.Context, r Request, facts *domain.Facts) (Imported, error) {
	if err := s.MayImport(r); err != nil {
		return Imported{}, err
	}
	if err := checkAnswers(facts); err != nil {
		return Imported{}, err
	}
	if err := s.hold(ctx); err != nil {
		return Imported{}, err
	}
	defer s.release()
	var done written
	err := s.store.Write(ctx, func(tx Tx) error {
		now := domain.Point{Epoch: tx.Epoch(), Version: tx.Version()}
		base, err := s.advanceTo(ctx, now)
		if err != nil {
			return err
		}
		repeat, err := s.repeated(ctx, tx, r)
		if err != nil {
			return err
		}
		if repeat != nil {
			done = *repeat
			return nil
		}
		whole, err := s.inPlaceOf(base, facts, r.Caller)
		if err != nil {
			return err
		}
		if err := tx.Restore(ctx, whole); err != nil {
			return err
		}
		done = written{domain.Point{Epoch: now.Epoch + 1, Version: whole.Last()}, strconv.FormatInt(int64(facts.Last()), 10)}
		return s.record(ctx, tx, r, done)
	})
	if err != nil {
		return Imported{}, err
	}
	if err := s.catchUpHeld(ctx); err != nil {
		return Imported{}, err
	}
	b, err := s.bookOf(ctx, done.point)
	if err != nil {
		return Imported{}, err
	}
	return imported(b, done.subject)
}

// checkAnswers refuses facts from which nothing could be answered: no later
// write could mend them.
func checkAnswers(facts *domain.Facts) error {
	var words translation
	b := book.New(0).With(facts)
	if _, err := estimate.Solve(words.book(b)); err != nil {
		return &domain.Error{
			Code: domain.Malformed, Message: "The export holds measurements from which nothing can be computed: " + err.Error() +
				". Send what an export wrote, unchanged.",
		}
	}
	return nil
}

// inPlaceOf returns the facts of the book that an export becomes: its own, then
// the keys of the book that it takes the place of.
func (s *Service) inPlaceOf(b *book.Book, facts *domain.Facts, by Caller) (*domain.Facts, error) {
	if !b.HoldsOnlyKeys() {
		return nil, notEmpty(b)
	}
	whole := *facts
	whole.Keys = slices.Clone(facts.Keys)
	for i := range whole.Keys {
		k := &whole.Keys[i]
		k.Hash = domain.Digest{}
		_, known := b.KeyByID(k.ID)
		if _, taken := b.Key(k.Prefix); known || taken {
			return nil, domain.Errorf(domain.Conflict,
				"The key %s of the export is a key of this book too: import into a new database or data folder, with keys made there.", k.Prefix)
		}
	}
	if b.Version() == 0 {
		return &whole, nil
	}
	next := facts.Last() + 1
	whole.Changes = append(slices.Clip(facts.Changes), domain.Change{Version: next, At: s.now(), By: by.Key})
	for _, k := range b.Keys() {
		kept := *k
		kept.Version = next
		if kept.Revoked != 0 {
			kept.Revoked = next
		}
		whole.Keys = append(whole.Keys, kept)
	}
	return &whole, nil
}

// imported says what made b, which is as an import of versions up to last left it.
func imported(b *book.Book, last string) (Imported, error) {
	v, err := strconv.ParseInt(last, 10, 64)
	made := Imported{Version: b.Version(), Last: domain.Version(v)}
	for _, k := range b.Keys() {
		if k.Version > made.Last {
			made.KeptKeys++
		}
	}
	return made, err
}

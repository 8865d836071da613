package service

import (
	"context"
	"errors"

	"delaybook/domain"
	"delaybook/domain/book"
)

// A Request is who asks, and how.
type Request struct {
	Caller Caller
	At     domain.Version // a read: as of this version of the book; 0: now

	Once        string   // a write: its idempotency key; empty: none
	Fingerprint [32]byte // with Once: of all that was sent
}

// A Match is what a write says of the copy that it changes (If-Match).
type Match struct {
	Given    bool
	Any      bool             // "*": whatever the copy
	Versions []domain.Version // one of these
}

// check compares with the version of the stored thing.
func (m Match) check(stored domain.Version) error {
	if !m.Given {
		return domain.Errorf(domain.NeedsMatch, "Say which copy you change: send If-Match with the ETag of your last read.")
	}
	if m.Any {
		return nil
	}
	for _, v := range m.Versions {
		if v == stored {
			return nil
		}
	}
	return domain.Errorf(domain.Stale, "It was changed since you read it: read it again and send If-Match with the new ETag.")
}

// A draft is what a use case wants to write: facts without their version, and
// the text by which its view finds what the answer is about.
type draft struct {
	facts   *domain.Facts // nil: nothing changes
	subject string
	asOf    domain.Version // without facts: the version that the answer is from; 0: now

	also func(ctx context.Context, tx Tx) error // with facts: what else the transaction does; may be nil
}

// write runs one write of r: prepare checks the request against the newest book
// and drafts the facts, which are stored in one transaction; view makes the
// answer from the book with them in. A repeat of r under the same idempotency
// key is answered by view from the book as the first one left it.
//
// prepare may run more than once. The draft's facts must carry version next.
func write[T any](
	ctx context.Context, s *Service, r Request,
	prepare func(b *book.Book, next domain.Version) (draft, error),
	view func(b *book.Book, subject string) (T, error),
) (answer T, err error) {
	done, err := s.commit(ctx, r, prepare)
	if err != nil {
		return answer, err
	}
	b, err := s.bookOf(ctx, done.point)
	if errors.Is(err, ErrReplaced) {
		return answer, domain.Errorf(domain.Conflict, "An import took the place of the book meanwhile: read what is there, then send the request again.")
	}
	if err != nil {
		return answer, err
	}
	return view(b, done.subject)
}

type written struct {
	point   domain.Point // of the book after it
	subject string
}

func (s *Service) commit(
	ctx context.Context, r Request, prepare func(b *book.Book, next domain.Version) (draft, error),
) (written, error) {
	if err := s.hold(ctx); err != nil {
		return written{}, err
	}
	defer s.release()

	var base *book.Book
	var facts *domain.Facts
	var done written
	err := s.store.Write(ctx, func(tx Tx) (err error) {
		base, facts = nil, nil
		now := domain.Point{Epoch: tx.Epoch(), Version: tx.Version()}
		if base, err = s.advanceTo(ctx, now); err != nil {
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
		next := tx.Version() + 1
		d, err := prepare(base, next)
		if err != nil {
			return err
		}
		done = written{now, d.subject}
		if d.asOf != 0 {
			done.point.Version = d.asOf
		}
		if d.facts != nil {
			facts, done.point.Version = d.facts, next
			facts.Changes = []domain.Change{{Version: next, At: s.now(), By: r.Caller.Key}}
			if err := tx.Add(ctx, facts); err != nil {
				return err
			}
			if d.also != nil {
				if err := d.also(ctx, tx); err != nil {
					return err
				}
			}
		}
		return s.record(ctx, tx, r, done)
	})
	if err != nil {
		return written{}, err
	}
	if facts != nil {
		s.adopt(base, facts)
	}
	return done, nil
}

// repeated returns what an earlier write under the idempotency key of r did,
// nil if there is none.
func (s *Service) repeated(ctx context.Context, tx Tx, r Request) (*written, error) {
	if r.Once == "" {
		return nil, nil
	}
	earlier, err := tx.Record(ctx, r.Caller.Crew, r.Once)
	if err != nil || earlier == nil {
		return nil, err
	}
	if earlier.Fingerprint != r.Fingerprint {
		var bad domain.Fields
		bad.Add("Idempotency-Key", "it was used for another request", "a new key, or the same request again")
		return nil, bad.Err("The idempotency key was used for another request.")
	}
	return &written{domain.Point{Epoch: tx.Epoch(), Version: earlier.Version}, earlier.Subject}, nil
}

func (s *Service) record(ctx context.Context, tx Tx, r Request, done written) error {
	if r.Once == "" {
		return nil
	}
	return tx.AddRecord(ctx, Record{
		Scope: r.Caller.Crew, Key: r.Once, Fingerprint: r.Fingerprint, Version: done.point.Version, Subject: done.subject,
	})
}

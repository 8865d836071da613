package service

import (
	"context"
	"errors"
	"sync"

	"delaybook/domain"
	"delaybook/domain/book"
)

// The books in memory form one line: each is made from the one before, by one
// writer at a time. hold takes the line, or gives up when ctx ends.
func (s *Service) hold(ctx context.Context) error {
	select {
	case s.line <- struct{}{}:
		return nil
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}

func (s *Service) release() { <-s.line }

// catchUp reads what other processes wrote since the current book.
func (s *Service) catchUp(ctx context.Context) error {
	if err := s.hold(ctx); err != nil {
		return err
	}
	defer s.release()
	return s.catchUpHeld(ctx)
}

// catchUpHeld is catchUp for a caller that holds the line.
func (s *Service) catchUpHeld(ctx context.Context) error {
	for {
		newest, err := s.store.Newest(ctx)
		if err != nil {
			return err
		}
		if _, err = s.advanceTo(ctx, newest); !errors.Is(err, ErrReplaced) {
			return err
		}
	}
}

// advanceTo returns the book at p or newer, which the store was at since the
// caller took the line. A book of another epoch is read from its beginning:
// nothing that is known of the one before holds for it.
func (s *Service) advanceTo(ctx context.Context, p domain.Point) (*book.Book, error) {
	b := s.current.Load()
	if b.Point().Epoch != p.Epoch {
		b = book.New(p.Epoch)
	}
	if b.Version() >= p.Version {
		return b, nil
	}
	facts, err := s.store.Facts(ctx, b.Version(), p)
	if err != nil {
		return nil, err
	}
	return s.adopt(b, facts), nil
}

// adopt makes b with facts the current book. The caller holds the line.
func (s *Service) adopt(b *book.Book, facts *domain.Facts) *book.Book {
	next := b.With(facts)
	s.past.keep(s.current.Load())
	s.current.Store(next)
	select {
	case s.grown <- struct{}{}:
	default: // somebody will look at it anyway
	}
	return next
}

// Follow keeps the book in step with what other processes write, until ctx
// ends. While it can not see their changes, every read asks the store first.
func (s *Service) Follow(ctx context.Context) {
	s.store.Watch(ctx, func(p domain.Point) {
		if s.Point().Before(p) {
			if err := s.catchUp(ctx); err != nil {
				s.blind.Store(true)
				s.log.ErrorContext(ctx, "catch up with the book", "version", p.Version, "err", err)
				return
			}
		}
		s.blind.Store(false)
	}, func(err error) {
		s.blind.Store(true)
		s.log.WarnContext(ctx, "changes by other processes can not be seen for now", "err", err)
	})
}

// bookFor returns the book that a read of r is answered from.
func (s *Service) bookFor(ctx context.Context, r Request) (*book.Book, error) {
	if s.blind.Load() {
		if err := s.catchUp(ctx); err != nil {
			return nil, err
		}
	}
	return s.bookAt(ctx, r.At)
}

// bookAt returns the book as it was at version v; 0 means now.
func (s *Service) bookAt(ctx context.Context, v domain.Version) (*book.Book, error) {
	b := s.current.Load()
	switch {
	case v == 0 || v == b.Version():
		return b, nil
	case v > b.Version() || v < 0:
		var bad domain.Fields
		bad.Add("at", "the book has no such version", "a version from 1 up to that of the latest answer")
		return nil, bad.Err("The book has no such version.")
	}
	old, err := s.bookOf(ctx, domain.Point{Epoch: b.Point().Epoch, Version: v})
	if errors.Is(err, ErrReplaced) {
		if err := s.catchUp(ctx); err != nil {
			return nil, err
		}
		return s.bookAt(ctx, v)
	}
	return old, err
}

// bookOf returns the book as it was at p, at which it was before. It returns
// [ErrReplaced] if the book is of another epoch now and this one is not kept.
func (s *Service) bookOf(ctx context.Context, p domain.Point) (*book.Book, error) {
	if b := s.current.Load(); b.Point() == p {
		return b, nil
	}
	if old, ok := s.past.find(p); ok {
		return old, nil
	}
	facts, err := s.store.Facts(ctx, 0, p)
	if err != nil {
		return nil, err
	}
	old := book.New(p.Epoch).With(facts)
	s.past.keepRebuilt(old)
	return old, nil
}

// past keeps some books older than the current one: the latest ones, which
// repeats of a write ask for and which share nearly all with the current book,
// and very few rebuilt from the store, which share nothing.
type past struct {
	mu      sync.Mutex
	recent  []*book.Book
	rebuilt []*book.Book
}

const (
	mostRecent  = 64
	mostRebuilt = 2
)

func newPast() *past { return &past{} }

func (p *past) keep(b *book.Book) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.recent = push(p.recent, b, mostRecent)
}

func (p *past) keepRebuilt(b *book.Book) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.rebuilt = push(p.rebuilt, b, mostRebuilt)
}

func push(kept []*book.Book, b *book.Book, most int) []*book.Book {
	if len(kept) == most {
		copy(kept, kept[1:])
		kept = kept[:most-1]
	}
	return append(kept, b)
}

func (p *past) find(at domain.Point) (*book.Book, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, kept := range [][]*book.Book{p.recent, p.rebuilt} {
		for _, b := range kept {
			if b.Point() == at {
				return b, true
			}
		}
	}
	return nil, false
}

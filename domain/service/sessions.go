package service

import (
	"context"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
)

// How long what people get in by is good.
const (
	SessionFor     = 14 * 24 * time.Hour // a session, from when it is opened
	MaxJoinHours   = 7 * 24              // a link that others join by
	shownJoinHours = 12                  // one whose maker does not say
)

// NewJoinLink is what a new link to join a crew needs.
type NewJoinLink struct {
	Crew  string // slug; empty: the caller's crew
	Label string // what it is for, in words
	Hours int    // how long one can join; 0: 12
	Once  bool   // it ends when the first person joined
}

// AddJoinLink makes a link by which whoever opens it becomes a tech of a crew
// for [SessionFor]. It needs the role editor in the crew. The text is the secret
// part of the link: it is shown once and kept nowhere.
func (s *Service) AddJoinLink(ctx context.Context, r Request, in NewJoinLink) (MadeKey, error) {
	if err := r.Caller.need(domain.Editor); err != nil {
		return MadeKey{}, err
	}
	return s.makeKey(ctx, r, func(b *book.Book) (domain.Key, error) {
		var bad domain.Fields
		crew := checkCrew(&bad, b, r.Caller, in.Crew)
		checkText(&bad, "/label", in.Label, optional)
		bad.Check(in.Hours >= 0 && in.Hours <= MaxJoinHours, "/hours", "a link is good from 1 to 168 hours", "whole hours, or nothing for 12")
		if in.Hours == 0 {
			in.Hours = shownJoinHours
		}
		return domain.Key{
			Purpose: domain.ForJoining, Role: domain.Tech, Crew: crew, Label: in.Label, From: r.Caller.Key, Once: in.Once,
			ExpiresAt: s.now().UTC().Add(time.Duration(in.Hours) * time.Hour),
		}, bad.Err("The link is not valid.")
	})
}

// joinEnded is what whoever opens a link that is no good is told.
func joinEnded() error {
	return domain.Errorf(domain.NotFound, "This link has ended or was never good: ask whoever gave it to you for a new one.")
}

// A Joining is what a link offers.
type Joining struct {
	Crew      domain.Crew
	ExpiresAt time.Time
}

// Joining says what the link with the given secret offers, without using it up:
// programs that show previews of links open them too.
func (s *Service) Joining(ctx context.Context, text string) (Joining, error) {
	link, err := s.keyInUse(ctx, domain.ForJoining, text)
	if err != nil {
		return Joining{}, err
	}
	if link == nil {
		return Joining{}, joinEnded()
	}
	crew, _ := s.current.Load().Crew(link.Crew)
	return Joining{Crew: *crew, ExpiresAt: link.ExpiresAt}, nil
}

// Join opens a session with a link for a person, whose name will stand beside
// what it measures.
func (s *Service) Join(ctx context.Context, text, name string) (MadeKey, error) {
	link, err := s.keyInUse(ctx, domain.ForJoining, text)
	if err != nil {
		return MadeKey{}, err
	}
	if link == nil {
		return MadeKey{}, joinEnded()
	}
	return s.makeKey(ctx, Request{Caller: Caller{Key: link.ID}}, func(b *book.Book) (domain.Key, error) {
		now, _ := b.Key(link.Prefix)
		if !s.inUse(now) {
			return domain.Key{}, joinEnded()
		}
		var bad domain.Fields
		checkText(&bad, "/name", name, required)
		return s.session(now, name), bad.Err("A name is needed.")
	})
}

// SignIn opens a session with the rights of a key. The session ends with the key.
func (s *Service) SignIn(ctx context.Context, text string) (MadeKey, error) {
	key, err := s.keyInUse(ctx, domain.ForRequests, text)
	if err != nil {
		return MadeKey{}, err
	}
	if key == nil {
		return MadeKey{}, domain.Errorf(domain.NoKey, "The key is not known: paste the whole key, from its first letter to its last.")
	}
	return s.makeKey(ctx, Request{Caller: Caller{Key: key.ID}}, func(*book.Book) (domain.Key, error) {
		return s.session(key, key.Label), nil
	})
}

func (s *Service) session(from *domain.Key, label string) domain.Key {
	return domain.Key{
		Purpose: domain.ForSession, Role: from.Role, Crew: from.Crew, Label: label, From: from.ID,
		ExpiresAt: s.now().UTC().Add(SessionFor),
	}
}

// A Session is who uses a browser.
type Session struct {
	Caller    Caller
	Name      string // of the person
	Prefix    string // by which the session can be ended
	ExpiresAt time.Time
	Crew      *domain.Crew // nil: none
}

// Session returns the session whose secret is text. It returns NoKey when there
// is none, or it ended, or the key that it was opened with was revoked.
func (s *Service) Session(ctx context.Context, text string) (Session, error) {
	key, err := s.keyInUse(ctx, domain.ForSession, text)
	if err != nil {
		return Session{}, err
	}
	b := s.current.Load()
	if key != nil {
		if from, ok := b.KeyByID(key.From); ok && from.Purpose == domain.ForRequests && !s.inUse(from) {
			key = nil
		}
	}
	if key == nil {
		return Session{}, domain.Errorf(domain.NoKey, "You are not signed in, or no longer: open the link of your crew again, or sign in with a key.")
	}
	session := Session{Caller: callerOf(key), Name: key.Label, Prefix: key.Prefix, ExpiresAt: key.ExpiresAt}
	session.Crew, _ = b.Crew(key.Crew)
	return session, nil
}

// Access returns the links and sessions in use of the caller's crew, newest
// first; for an admin those of the company. It needs the role editor.
func (s *Service) Access(ctx context.Context, r Request) ([]*domain.Key, error) {
	if err := r.Caller.need(domain.Editor); err != nil {
		return nil, err
	}
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	var all []*domain.Key
	for _, k := range b.Keys() {
		if k.Purpose != domain.ForRequests && s.inUse(k) && r.Caller.governs(k) {
			all = append([]*domain.Key{k}, all...)
		}
	}
	return all, nil
}

// governs reports whether the caller may end a link or session of another.
func (c Caller) governs(k *domain.Key) bool {
	return c.Role == domain.Admin || c.Role == domain.Editor && c.Crew != (domain.CrewID{}) && k.Crew == c.Crew
}

// EndAccess ends a link or a session, named by its prefix or identifier. Everybody may end their own
// session; an editor those of the crew. Sessions that a link opened go on: each
// is ended for itself.
func (s *Service) EndAccess(ctx context.Context, r Request, name string) error {
	if err := r.Caller.need(domain.Reader); err != nil {
		return err
	}
	_, err := write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		for _, k := range b.Keys() {
			if k.Prefix != name && k.ID.String() != name || k.Purpose == domain.ForRequests {
				continue
			}
			if k.ID != r.Caller.Key && !r.Caller.governs(k) {
				break
			}
			if k.Revoked != 0 {
				return draft{}, nil
			}
			ended := *k
			ended.Revoked = next
			return draft{facts: &domain.Facts{Keys: []domain.Key{ended}}}, nil
		}
		return draft{}, domain.Errorf(domain.NotFound, "There is no link or session %q.", name)
	}, func(*book.Book, string) (struct{}, error) { return struct{}{}, nil })
	return err
}

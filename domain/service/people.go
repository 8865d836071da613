package service

import (
	"context"
	"crypto/sha256"
	"encoding/base32"
	"slices"
	"strings"

	"delaybook/domain"
	"delaybook/domain/book"
)

// NewCrew is what a new crew needs.
type NewCrew struct {
	Slug string
	Name string
}

// AddCrew adds a crew. It needs the role admin.
func (s *Service) AddCrew(ctx context.Context, r Request, in NewCrew) (*domain.Crew, error) {
	if err := r.Caller.need(domain.Admin); err != nil {
		return nil, err
	}
	return write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		var bad domain.Fields
		checkSlug(&bad, "/slug", in.Slug)
		checkText(&bad, "/name", in.Name, required)
		if err := bad.Err("The crew is not valid."); err != nil {
			return draft{}, err
		}
		if _, taken := b.CrewBySlug(domain.Slug(in.Slug)); taken {
			return draft{}, taken409("/slug", "crew", in.Slug)
		}
		crew := domain.Crew{ID: domain.CrewID{UUID: s.newID()}, Slug: domain.Slug(in.Slug), Name: in.Name, Version: next}
		return draft{facts: &domain.Facts{Crews: []domain.Crew{crew}}, subject: in.Slug}, nil
	}, func(b *book.Book, slug string) (*domain.Crew, error) {
		crew, _ := b.CrewBySlug(domain.Slug(slug))
		return crew, nil
	})
}

// Crews returns the crews: all of them for the role admin, else the caller's own.
func (s *Service) Crews(ctx context.Context, r Request) ([]*domain.Crew, error) {
	if err := r.Caller.need(domain.Reader); err != nil {
		return nil, err
	}
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	if r.Caller.Role == domain.Admin {
		return b.Crews(), nil
	}
	if crew, ok := b.Crew(r.Caller.Crew); ok {
		return []*domain.Crew{crew}, nil
	}
	return nil, nil
}

// NewKey is what a new key needs.
type NewKey struct {
	Role  string
	Crew  string // slug; empty: a key of the company, in no crew
	Label string
}

// A MadeKey is a new key with its text, which is shown once and kept nowhere.
type MadeKey struct {
	domain.Key
	Text string
}

// AddKey makes a key. It needs the role admin. A repeat under the same
// idempotency key is a Conflict: the text was shown and is not kept.
func (s *Service) AddKey(ctx context.Context, r Request, in NewKey) (MadeKey, error) {
	if err := r.Caller.need(domain.Admin); err != nil {
		return MadeKey{}, err
	}
	return s.makeKey(ctx, r, func(b *book.Book) (domain.Key, error) {
		var bad domain.Fields
		bad.Check(domain.Role(in.Role).Valid(), "/role", "there is no such role", "reader, tech, editor or admin")
		checkText(&bad, "/label", in.Label, optional)
		crew, ok := b.CrewBySlug(domain.Slug(in.Crew))
		if !ok && in.Crew != "" {
			bad.Add("/crew", "there is no such crew", "the slug of a crew, or nothing for a key of the company")
		}
		key := domain.Key{Purpose: domain.ForRequests, Role: domain.Role(in.Role), Label: in.Label}
		if crew != nil {
			key.Crew = crew.ID
		}
		return key, bad.Err("The key is not valid.")
	})
}

// makeKey stores what draw says of a key, session or link, with a new secret. A
// link that is good once is used up by the session that it opens, in one step.
func (s *Service) makeKey(ctx context.Context, r Request, draw func(b *book.Book) (domain.Key, error)) (MadeKey, error) {
	var text string
	made, err := write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		key, err := draw(b)
		if err != nil {
			return draft{}, err
		}
		key.ID, key.CreatedAt, key.Version = domain.KeyID{UUID: s.newID()}, s.now().UTC(), next
		text, key.Prefix = keyText(key.Purpose, s.secret())
		key.Hash = sha256.Sum256([]byte(text))
		facts := &domain.Facts{Keys: []domain.Key{key}}
		if from, ok := b.KeyByID(key.From); ok && key.Purpose == domain.ForSession && from.Once {
			used := *from
			used.Revoked = next
			facts.Keys = append(facts.Keys, used)
		}
		return draft{facts: facts, subject: key.Prefix}, nil
	}, func(b *book.Book, prefix string) (domain.Key, error) {
		key, _ := b.Key(prefix)
		return *key, nil
	})
	switch {
	case err != nil:
		return MadeKey{}, err
	case text == "":
		return MadeKey{}, domain.Errorf(domain.Conflict,
			"This request made one before; its text was shown once and is not kept: send a new Idempotency-Key to make another.")
	}
	return MadeKey{made, text}, nil
}

// keyMarks begin the text of every key, so that one that is left lying about is
// recognised for what it is, and none can be used for what it was not made for.
var keyMarks = map[domain.Purpose]string{domain.ForRequests: "dlb", domain.ForSession: "dls", domain.ForJoining: "dlj"}

// keyText returns the text of a key with a 256-bit secret, and its public prefix.
func keyText(purpose domain.Purpose, secret [32]byte) (text, prefix string) {
	public := sha256.Sum256(append([]byte("delaybook key prefix:"), secret[:]...))
	encode := func(b []byte) string {
		return strings.ToLower(base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(b))
	}
	prefix = encode(public[:5])
	return keyMarks[purpose] + "_" + prefix + "_" + encode(secret[:]), prefix
}

// keyPrefix returns the public part of the text of a key with a purpose.
func keyPrefix(purpose domain.Purpose, text string) (prefix string, ok bool) {
	parts := strings.Split(text, "_")
	if len(parts) != 3 || parts[0] != keyMarks[purpose] {
		return "", false
	}
	return parts[1], true
}

// Keys returns every key, revoked ones too, in order of prefix. It needs the role admin.
func (s *Service) Keys(ctx context.Context, r Request) ([]*domain.Key, error) {
	if err := r.Caller.need(domain.Admin); err != nil {
		return nil, err
	}
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	keys := slices.DeleteFunc(b.Keys(), func(k *domain.Key) bool { return k.Purpose != domain.ForRequests })
	slices.SortFunc(keys, func(x, y *domain.Key) int { return strings.Compare(x.Prefix, y.Prefix) })
	return keys, nil
}

// RevokeKey ends a key, named by its prefix or identifier. It needs the role
// admin. Ending it again changes nothing.
func (s *Service) RevokeKey(ctx context.Context, r Request, name string) error {
	if err := r.Caller.need(domain.Admin); err != nil {
		return err
	}
	_, err := write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		for _, k := range b.Keys() {
			if k.Prefix != name && k.ID.String() != name {
				continue
			}
			if k.Revoked != 0 {
				return draft{}, nil
			}
			ended := *k
			ended.Revoked = next
			return draft{facts: &domain.Facts{Keys: []domain.Key{ended}}}, nil
		}
		return draft{}, domain.Errorf(domain.NotFound, "There is no key %q.", name)
	}, func(*book.Book, string) (struct{}, error) { return struct{}{}, nil })
	return err
}

// CrewSlug returns the slug of a crew.
func (s *Service) CrewSlug(id domain.CrewID) (string, bool) {
	crew, ok := s.current.Load().Crew(id)
	if !ok {
		return "", false
	}
	return string(crew.Slug), true
}

// KeyLabel returns how a key is called in histories: its label, else its prefix.
func (s *Service) KeyLabel(id domain.KeyID) string {
	key, ok := s.current.Load().KeyByID(id)
	switch {
	case !ok:
		return ""
	case key.Label != "":
		return key.Label
	}
	return key.Prefix
}

package service

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"slices"
	"strings"

	"delaybook/domain"
	"delaybook/domain/book"
)

// A Caller is who asks. The zero Caller may do nothing.
type Caller struct {
	Key  domain.KeyID  // zero: a program beside the service
	Role domain.Role   // empty: nobody
	Crew domain.CrewID // zero: no crew
}

// Operator returns the caller that a program on the machine of the service acts
// as: whoever can read the data folder may do everything.
func Operator() Caller { return Caller{Role: domain.Admin} }

// View names what the caller may see: callers with equal views get equal answers.
func (c Caller) View() string {
	if c.Role == domain.Admin {
		return "admin"
	}
	return c.Crew.String()
}

// Authenticate returns the caller that holds the key written as text. It
// returns NoKey for a key that is unknown or revoked.
func (s *Service) Authenticate(ctx context.Context, text string) (Caller, error) {
	key, err := s.keyInUse(ctx, domain.ForRequests, text)
	if err != nil {
		return Caller{}, err
	}
	if key == nil {
		return Caller{}, domain.Errorf(domain.NoKey, "The key is not known: send Authorization: Bearer with a key that is in use.")
	}
	return callerOf(key), nil
}

func callerOf(k *domain.Key) Caller { return Caller{Key: k.ID, Role: k.Role, Crew: k.Crew} }

// keyInUse returns the key that was made for purpose and is written as text, nil
// if there is none, or it ended.
func (s *Service) keyInUse(ctx context.Context, purpose domain.Purpose, text string) (*domain.Key, error) {
	prefix, ok := keyPrefix(purpose, text)
	if !ok {
		return nil, nil
	}
	key, ok := s.current.Load().Key(prefix)
	if !ok {
		// A key made a moment ago by another process may not have reached us.
		if err := s.catchUp(ctx); err != nil {
			return nil, err
		}
		if key, ok = s.current.Load().Key(prefix); !ok {
			return nil, nil
		}
	}
	hash := sha256.Sum256([]byte(text))
	if subtle.ConstantTimeCompare(hash[:], key.Hash[:]) != 1 || key.Purpose != purpose || !s.inUse(key) {
		return nil, nil
	}
	return key, nil
}

// inUse reports whether a key is neither revoked nor past its end.
func (s *Service) inUse(k *domain.Key) bool {
	return k.Revoked == 0 && (k.ExpiresAt.IsZero() || s.now().Before(k.ExpiresAt))
}

// The rules. Everything that is not allowed here is refused.

// need refuses a caller whose role does not include role.
func (c Caller) need(role domain.Role) error {
	if c.Role.Includes(role) {
		return nil
	}
	return domain.Errorf(domain.Denied, "This needs a key with the role %s; yours has the role %s.", role, c.Role)
}

// sees reports whether the caller may know of a rig.
func (c Caller) sees(r *book.Rig) bool {
	switch {
	case r.Deleted || !c.Role.Valid():
		return false
	case c.Role == domain.Admin || r.Visibility == domain.VisibleToCompany:
		return true
	case c.Crew == (domain.CrewID{}):
		return false
	}
	return r.Crew == c.Crew || r.Visibility == domain.VisibleToListed && slices.Contains(r.VisibleTo, c.Crew)
}

// changes refuses a caller who may see a rig but not write to it: that is for
// its own crew.
func (c Caller) changes(r *book.Rig, role domain.Role) error {
	if err := c.need(role); err != nil {
		return err
	}
	if c.Role == domain.Admin || r.Crew == c.Crew {
		return nil
	}
	return domain.Errorf(domain.Denied, "The rig belongs to another crew: ask them, or clone it into yours.")
}

// rig finds the rig that the caller names: by slug in the caller's own crew,
// else by "crew.rig", else by identifier, else by a slug that only one rig that
// the caller may see has. What the caller may not see is not found.
func (c Caller) rig(b *book.Book, name string) (*book.Rig, error) {
	if err := c.need(domain.Reader); err != nil {
		return nil, err
	}
	missing := domain.Errorf(domain.NotFound, "There is no rig %q.", name)
	crewSlug, slug, qualified := strings.Cut(name, ".")
	if qualified {
		crew, ok := b.CrewBySlug(domain.Slug(crewSlug))
		if !ok {
			return nil, missing
		}
		if r, ok := b.RigBySlug(crew.ID, domain.Slug(slug)); ok && c.sees(r) {
			return r, nil
		}
		return nil, missing
	}
	if r, ok := b.RigBySlug(c.Crew, domain.Slug(name)); ok && c.sees(r) {
		return r, nil
	}
	if id, ok := parseID(name); ok {
		if r, ok := b.Rig(domain.RigID{UUID: id}); ok && c.sees(r) {
			return r, nil
		}
	}
	var found *book.Rig
	for _, r := range b.Rigs() {
		if r.Slug != domain.Slug(name) || !c.sees(r) {
			continue
		}
		if found != nil {
			return nil, domain.Errorf(domain.Conflict, "Several crews have a rig %q: write CREW.%s.", name, name)
		}
		found = r
	}
	if found == nil {
		return nil, missing
	}
	return found, nil
}

// rigToChange finds a rig that the caller may write to in the given role.
func (c Caller) rigToChange(b *book.Book, name string, role domain.Role) (*book.Rig, error) {
	r, err := c.rig(b, name)
	if err != nil {
		return nil, err
	}
	return r, c.changes(r, role)
}

// measurement finds a measurement by identifier, on a rig that the caller may see.
func (c Caller) measurement(b *book.Book, id string) (*domain.Measurement, *book.Rig, error) {
	if err := c.need(domain.Reader); err != nil {
		return nil, nil, err
	}
	if parsed, ok := parseID(id); ok {
		if m, rig, ok := b.Measurement(domain.MeasurementID{UUID: parsed}); ok && c.sees(rig) {
			return m, rig, nil
		}
	}
	return nil, nil, domain.Errorf(domain.NotFound, "There is no measurement %q.", id)
}

package service

import (
	"context"
	"fmt"
	"reflect"
	"slices"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"

	"github.com/google/uuid"
)

// NewRig is what a new rig needs, and what replaces one. From clones another
// rig: whatever is not given is taken from it.
type NewRig struct {
	From         string // rig to clone; empty: none
	Slug         string
	Name         string
	Crew         string   // slug; empty: the caller's crew
	Visibility   string   // crew, company, or listed with VisibleTo; empty: crew
	VisibleTo    []string // crew slugs
	JobDate      string   // YYYY-MM-DD
	Notes        string
	FrameRate    string
	Chains       []NewChain
	Destinations []NewDestination
	Feeds        []NewFeed
	Pairs        []NewPair
	// GivenLayout says whether any part of the layout was given: a clone without keeps that of its origin.
	GivenLayout bool
}

// A RigView is a rig as one caller may see it, at one revision.
type RigView struct {
	*book.Rig
	CrewSlug  domain.Slug
	VisibleTo []domain.Slug
	Book      *book.Book       // the book that the rig is in: names its devices
	Shown     *domain.Revision // the revision shown
}

// AddRig adds a rig. It needs the role editor, in the rig's crew.
func (s *Service) AddRig(ctx context.Context, r Request, in NewRig) (RigView, error) {
	if err := r.Caller.need(domain.Editor); err != nil {
		return RigView{}, err
	}
	return write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		var bad domain.Fields
		rig := domain.Rig{ID: domain.RigID{UUID: s.newID()}, Version: next, Crew: checkCrew(&bad, b, r.Caller, in.Crew)}
		layout := s.origin(&bad, b, r.Caller, &in)
		checkRig(&bad, b, &rig, in)
		if layout == nil {
			layout = resolveLayout(&bad, offerTo(b, nil), in)
		}
		if err := bad.Err("The rig is not valid."); err != nil {
			return draft{}, err
		}
		if other, taken := b.RigBySlug(rig.Crew, rig.Slug); taken && !other.Deleted {
			return draft{}, taken409("/slug", "rig", in.Slug)
		}
		rig.Revisions = []domain.Revision{{Number: 1, At: s.now().UTC(), By: r.Caller.Key, Version: next, Layout: *layout}}
		return draft{facts: &domain.Facts{Rigs: []domain.Rig{rig}}, subject: rig.ID.String()}, nil
	}, viewRig)
}

// origin fills what a clone leaves out, and returns the layout to copy, nil if
// the request brings its own.
func (s *Service) origin(bad *domain.Fields, b *book.Book, c Caller, in *NewRig) *domain.Layout {
	if in.From == "" {
		return nil
	}
	from, err := c.rig(b, in.From)
	if err != nil {
		bad.Add("/from", "there is no such rig", "a rig that you may see, as SLUG or CREW.SLUG")
		return nil
	}
	if in.Name == "" {
		in.Name = from.Name
	}
	if in.Notes == "" {
		in.Notes = from.Notes
	}
	if in.GivenLayout {
		return nil
	}
	layout := from.Current().Layout
	return &layout
}

func checkCrew(bad *domain.Fields, b *book.Book, c Caller, slug string) domain.CrewID {
	if slug == "" {
		bad.Check(c.Crew != (domain.CrewID{}), "/crew", "your key belongs to no crew", "the slug of the crew whose rig it is")
		return c.Crew
	}
	crew, ok := b.CrewBySlug(domain.Slug(slug))
	if !ok || c.Role != domain.Admin && crew.ID != c.Crew {
		bad.Add("/crew", "there is no such crew that you may write for", "the slug of your own crew, or nothing")
		return domain.CrewID{}
	}
	return crew.ID
}

func checkRig(bad *domain.Fields, b *book.Book, rig *domain.Rig, in NewRig) {
	rig.Slug = checkSlug(bad, "/slug", in.Slug)
	rig.Name = checkText(bad, "/name", in.Name, required)
	rig.Notes = checkText(bad, "/notes", in.Notes, optional)
	if rig.JobDate = in.JobDate; in.JobDate != "" {
		_, err := time.Parse(time.DateOnly, in.JobDate)
		bad.Check(err == nil, "/job_date", fmt.Sprintf("%q is not a date", short(in.JobDate)), "a date as YYYY-MM-DD")
	}
	rig.VisibleTo = nil
	switch rig.Visibility = domain.Visibility(in.Visibility); rig.Visibility {
	case "":
		rig.Visibility = domain.VisibleToCrew
	case domain.VisibleToCrew, domain.VisibleToCompany:
	case domain.VisibleToListed:
		for i, slug := range in.VisibleTo {
			crew, ok := b.CrewBySlug(domain.Slug(slug))
			if !ok {
				bad.Add(fmt.Sprintf("/visibility/%d", i), "there is no such crew", "slugs of crews")
				continue
			}
			rig.VisibleTo = append(rig.VisibleTo, crew.ID)
		}
	default:
		bad.Add("/visibility", fmt.Sprintf("%q is not a visibility", short(in.Visibility)), `"crew", "company" or a list of crew slugs`)
	}
}

// ReplaceRig replaces a rig. A changed layout makes a revision; a changed name,
// date or visibility does not. It needs the role editor, in the rig's crew.
func (s *Service) ReplaceRig(ctx context.Context, r Request, name string, m Match, in NewRig) (RigView, error) {
	return s.editRig(ctx, r, name, m, func(b *book.Book, rig *domain.Rig, old *book.Rig) error {
		var bad domain.Fields
		if in.Crew != "" {
			crew, ok := b.CrewBySlug(domain.Slug(in.Crew))
			bad.Check(ok && crew.ID == rig.Crew, "/crew", "a rig stays with its crew", "the rig's own crew, or nothing; clone it to move it")
		}
		bad.Check(in.From == "", "/from", "a rig that exists can not be cloned into", "the rig's own chains")
		checkRig(&bad, b, rig, in)
		layout := resolveLayout(&bad, offerTo(b, &old.Current().Layout), in)
		if err := bad.Err("The rig is not valid."); err != nil {
			return err
		}
		if other, taken := b.RigBySlug(rig.Crew, rig.Slug); taken && other.ID != rig.ID {
			return taken409("/slug", "rig", in.Slug)
		}
		if !reflect.DeepEqual(*layout, old.Current().Layout) {
			rig.Revisions = []domain.Revision{{
				Number: old.Current().Number + 1, At: s.now().UTC(), By: r.Caller.Key, Version: rig.Version, Layout: *layout,
			}}
		}
		return nil
	})
}

// DeleteRig takes a rig out of every list. Its measurements stay in the book:
// they are what is known of its devices. It needs the role editor, in the rig's crew.
func (s *Service) DeleteRig(ctx context.Context, r Request, name string, m Match) error {
	_, err := s.editRig(ctx, r, name, m, func(_ *book.Book, rig *domain.Rig, _ *book.Rig) error {
		rig.Deleted = true
		return nil
	})
	return err
}

func (s *Service) editRig(
	ctx context.Context, r Request, name string, m Match, edit func(b *book.Book, rig *domain.Rig, old *book.Rig) error,
) (RigView, error) {
	return write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		old, err := r.Caller.rigToChange(b, name, domain.Editor)
		if err != nil {
			return draft{}, err
		}
		if err := m.check(old.Version); err != nil {
			return draft{}, err
		}
		rig := old.Rig
		rig.Revisions, rig.Version = nil, next
		if err := edit(b, &rig, old); err != nil {
			return draft{}, err
		}
		return draft{facts: &domain.Facts{Rigs: []domain.Rig{rig}}, subject: rig.ID.String()}, nil
	}, viewRig)
}

func viewRig(b *book.Book, id string) (RigView, error) {
	r, _ := b.Rig(domain.RigID{UUID: uuid.MustParse(id)})
	return showRig(b, r), nil
}

func showRig(b *book.Book, r *book.Rig) RigView {
	v := RigView{Rig: r, Book: b, Shown: r.Current()}
	if crew, ok := b.Crew(r.Crew); ok {
		v.CrewSlug = crew.Slug
	}
	for _, id := range r.VisibleTo {
		if crew, ok := b.Crew(id); ok {
			v.VisibleTo = append(v.VisibleTo, crew.Slug)
		}
	}
	return v
}

// Rig returns the rig that name names, at its latest revision.
func (s *Service) Rig(ctx context.Context, r Request, name string) (RigView, error) {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return RigView{}, err
	}
	rig, err := r.Caller.rig(b, name)
	if err != nil {
		return RigView{}, err
	}
	return showRig(b, rig), nil
}

// A RigInState is a rig whose state can be asked for.
type RigInState struct {
	RigView
	service *Service
}

// State returns the state of the rig.
func (r RigInState) State(ctx context.Context) (RigState, error) {
	return r.service.State(ctx, r.RigView)
}

// Rigs returns the rigs that the caller may see, of a crew and in a state, in
// order of identifier; empty texts mean any.
func (s *Service) Rigs(ctx context.Context, r Request, crew, state string) ([]RigInState, error) {
	if err := r.Caller.need(domain.Reader); err != nil {
		return nil, err
	}
	if state != "" && !slices.Contains(RigStates(), RigState(state)) {
		var bad domain.Fields
		bad.Add("state", fmt.Sprintf("%q is not a state of rigs", short(state)), "inside, outside, undecided, never-checked or stale")
		return nil, bad.Err("There is no such state.")
	}
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	var seen []RigInState
	for _, rig := range b.Rigs() {
		v := RigInState{showRig(b, rig), s}
		if !r.Caller.sees(rig) || crew != "" && string(v.CrewSlug) != crew {
			continue
		}
		if state != "" {
			is, err := v.State(ctx)
			if err != nil {
				return nil, err
			}
			if string(is) != state {
				continue
			}
		}
		seen = append(seen, v)
	}
	return seen, nil
}

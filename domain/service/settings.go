package service

import (
	"context"
	"fmt"
	"slices"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
)

// NewSettings is what was dialled in on a rig. Controls that are left out keep
// what is recorded of them.
type NewSettings struct {
	Settings    []NewSetting
	At          string // RFC 3339; empty: now
	PlanVersion *int64 // book version of the plan that was applied
}

// A SettingsView is what is dialled in, and what it replaced.
type SettingsView struct {
	Rig      *book.Rig
	Book     *book.Book
	Now      *domain.SettingsInForce // nil: nothing was ever recorded
	Replaced *domain.SettingsInForce // after a write: what was in force at that instant; nil: nothing
}

// PutSettings records what is dialled in from an instant on. It needs the role
// editor, in the rig's crew.
func (s *Service) PutSettings(ctx context.Context, r Request, name string, in NewSettings) (SettingsView, error) {
	return write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		rig, err := r.Caller.rigToChange(b, name, domain.Editor)
		if err != nil {
			return draft{}, err
		}
		var bad domain.Fields
		d := s.newDrafting(b, r.Caller, next)
		row := domain.SettingsInForce{
			ID: domain.SettingsID{UUID: s.newID()}, Rig: rig.ID, By: r.Caller.Key, Version: next, At: d.takenAt(&bad, in.At),
		}
		for i := range bad {
			bad[i].Pointer = "/at"
		}
		revision := rig.RevisionAt(row.At)
		row.Revision = revision.Number
		row.Values = resolveValues(&bad, b, &revision.Layout, "/settings", in.Settings)
		bad.Check(len(in.Settings) > 0, "/settings", "nothing is set", `[{"control":NAME,"value":NUMBER}]`)
		if in.PlanVersion != nil {
			row.Plan = domain.Version(*in.PlanVersion)
			bad.Check(row.Plan >= 1 && row.Plan <= b.Version(), "/plan_version", "the book has no such version", "the book_version of the plan that was dialled in")
		}
		if err := bad.Err("The settings are not valid."); err != nil {
			return draft{}, err
		}
		row.Values = carryOver(b, rig, revision, row)
		return draft{facts: &domain.Facts{Settings: []domain.SettingsInForce{row}}, subject: row.ID.String()}, nil
	}, viewSettings)
}

// carryOver completes a row with the values in force of the controls that it
// does not name, in the order of the layout.
func carryOver(b *book.Book, rig *book.Rig, revision *domain.Revision, row domain.SettingsInForce) []domain.Setting {
	var all []domain.Setting
	for _, p := range revision.Layout.Controls() {
		i := slices.IndexFunc(row.Values, func(v domain.Setting) bool { return v.Control == p.Use.Name })
		if i >= 0 {
			all = append(all, row.Values[i])
		} else if v, ok := valueAt(b, rig, &revision.Layout, p.Use.Name, row.At); ok {
			all = append(all, domain.Setting{Control: p.Use.Name, Value: v})
		}
	}
	return all
}

func viewSettings(b *book.Book, id string) (SettingsView, error) {
	for _, rig := range b.Rigs() {
		for i, row := range rig.Settings {
			if row.ID.String() != id {
				continue
			}
			v := SettingsView{Rig: rig, Book: b, Now: row}
			if i > 0 {
				v.Replaced = rig.Settings[i-1]
			}
			return v, nil
		}
	}
	return SettingsView{}, fmt.Errorf("the settings %s are not in the book", id)
}

// Settings returns what is dialled in on a rig at an instant; the zero time
// means the latest.
func (s *Service) Settings(ctx context.Context, r Request, name string, at time.Time) (SettingsView, error) {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return SettingsView{}, err
	}
	rig, err := r.Caller.rig(b, name)
	if err != nil {
		return SettingsView{}, err
	}
	v := SettingsView{Rig: rig, Book: b, Now: settingsNow(rig)}
	if !at.IsZero() {
		v.Now = settingsAt(rig, at)
	}
	return v, nil
}

// RigName returns CREW.SLUG of the rig.
func (v SettingsView) RigName() string { return rigName(v.Book, v.Rig) }

// A DescribedSetting is a setting with the control that it is of.
type DescribedSetting struct {
	domain.Setting
	On     *domain.Control
	Placed domain.PlacedControl
	MS     float64 // the delay that it gives, with what engaging adds
}

// Describe returns the settings of a row with their controls.
func (v SettingsView) Describe(row *domain.SettingsInForce) []DescribedSetting {
	revision, _ := v.Rig.Revision(row.Revision)
	placed := revision.Layout.Controls()
	var out []DescribedSetting
	for _, set := range row.Values {
		i := slices.IndexFunc(placed, func(p domain.PlacedControl) bool { return p.Use.Name == set.Control })
		control := controlOf(v.Book, placed[i])
		out = append(out, DescribedSetting{set, control, placed[i], ControlMS(control, revision.Layout.FrameRate, set.Value)})
	}
	return out
}

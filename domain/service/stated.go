package service

import (
	"context"
	"fmt"

	"delaybook/domain"
	"delaybook/domain/book"
)

// maxOffsetMS bounds every offset and latency in ms: nothing in a live
// production is later than ten seconds, and a value beyond is a slip.
const maxOffsetMS = 10_000

// NewStated is what a new stated value needs: Signal or Difference, UMS or
// HalfWidthMS.
type NewStated struct {
	Mode        string
	Signal      string
	Difference  []string // two signals: first minus second
	ValueMS     *float64
	UMS         *float64
	HalfWidthMS *float64
	Source      string
}

// AddStated adds a stated value to a device. It needs the role editor.
func (s *Service) AddStated(ctx context.Context, r Request, name string, in NewStated) (*domain.Stated, error) {
	if err := r.Caller.need(domain.Editor); err != nil {
		return nil, err
	}
	return write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		d, err := device(b, name)
		if err != nil {
			return draft{}, err
		}
		var bad domain.Fields
		v := domain.Stated{
			ID: domain.StatedID{UUID: s.newID()}, Device: d.ID, By: r.Caller.Key, Version: next,
			Source: checkText(&bad, "/source", in.Source, required),
		}
		checkStatedSignal(&bad, d, &v, in)
		checkStatedValue(&bad, &v, in)
		if err := bad.Err("The stated value is not valid."); err != nil {
			return draft{}, err
		}
		return draft{facts: &domain.Facts{Stated: []domain.Stated{v}}, subject: v.ID.String()}, nil
	}, viewStated)
}

func checkStatedSignal(bad *domain.Fields, d *domain.Device, v *domain.Stated, in NewStated) {
	m, ok := d.Mode(domain.Slug(in.Mode))
	if !ok {
		bad.Add("/mode", fmt.Sprintf("the device has no mode %q", short(in.Mode)), "the slug of one of its modes")
		return
	}
	v.Mode = m.ID
	switch {
	case in.Difference == nil:
		v.Signal = domain.Signal(in.Signal)
		bad.Check(v.Signal.Valid(), "/signal", fmt.Sprintf("%q is not a signal", short(in.Signal)), "picture or sound, or difference")
		bad.Check(!m.IsDirect(v.Signal), "/signal", "the mode passes it directly: its latency is exactly 0", "another signal")
	case in.Signal != "":
		bad.Add("/difference", "signal is given too", "signal or difference, not both")
	case len(in.Difference) != 2 || in.Difference[0] == in.Difference[1]:
		bad.Add("/difference", "it is not a pair of two signals", `["picture","sound"] for picture minus sound`)
	default:
		v.Signal, v.Minus = domain.Signal(in.Difference[0]), domain.Signal(in.Difference[1])
		bad.Check(v.Signal.Valid() && v.Minus.Valid(), "/difference", "there is no such signal", `["picture","sound"] for picture minus sound`)
	}
}

func checkStatedValue(bad *domain.Fields, v *domain.Stated, in NewStated) {
	least := 0.0
	if in.Difference != nil {
		least = -maxOffsetMS
	}
	bad.Check(in.ValueMS != nil, "/value_ms", "it is missing", "the stated value in ms")
	checkNumber(bad, "/value_ms", in.ValueMS, least, maxOffsetMS, "a latency in ms")
	bad.Check((in.UMS == nil) != (in.HalfWidthMS == nil), "/u_ms", "the uncertainty must be given once",
		"u_ms (standard uncertainty) or half_width_ms (the plus-or-minus of the source)")
	checkNumber(bad, "/u_ms", in.UMS, minU, maxOffsetMS, "an uncertainty in ms")
	checkNumber(bad, "/half_width_ms", in.HalfWidthMS, minU, maxOffsetMS, "a half-width in ms")
	for to, from := range map[*float64]*float64{&v.ValueMS: in.ValueMS, &v.UMS: in.UMS, &v.HalfWidthMS: in.HalfWidthMS} {
		if from != nil {
			*to = *from
		}
	}
}

// minU is the least standard uncertainty that anybody can state, ms. It keeps
// a careless 0 from overruling every measurement.
const minU = 0.001

func viewStated(b *book.Book, id string) (*domain.Stated, error) {
	for _, v := range b.StatedValues() {
		if v.ID.String() == id {
			return v, nil
		}
	}
	return nil, domain.Errorf(domain.NotFound, "There is no stated value %q.", id)
}

// StatedOf returns the stated values of a device, struck ones too, in order of version.
func (s *Service) StatedOf(ctx context.Context, r Request, name string) ([]*domain.Stated, error) {
	if err := r.Caller.need(domain.Reader); err != nil {
		return nil, err
	}
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	d, err := device(b, name)
	if err != nil {
		return nil, err
	}
	var of []*domain.Stated
	for _, v := range b.StatedValues() {
		if v.Device == d.ID {
			of = append(of, v)
		}
	}
	return of, nil
}

// StrikeStated strikes out a stated value. It needs the role editor.
func (s *Service) StrikeStated(ctx context.Context, r Request, id, reason string) (*domain.Stated, error) {
	return s.strikeStated(ctx, r, id, reason, false)
}

// RestoreStated takes back the strike of a stated value. It needs the role editor.
func (s *Service) RestoreStated(ctx context.Context, r Request, id, reason string) (*domain.Stated, error) {
	return s.strikeStated(ctx, r, id, reason, true)
}

func (s *Service) strikeStated(ctx context.Context, r Request, id, reason string, restores bool) (*domain.Stated, error) {
	if err := r.Caller.need(domain.Editor); err != nil {
		return nil, err
	}
	return write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		v, err := viewStated(b, id)
		if err != nil {
			return draft{}, err
		}
		strike, err := s.strike(r, reason, next)
		if err != nil || (v.Struck == nil) == restores {
			return draft{subject: id}, err
		}
		fact := domain.StrikeFact{Stated: v.ID, Restores: restores, Strike: strike}
		return draft{facts: &domain.Facts{Strikes: []domain.StrikeFact{fact}}, subject: id}, nil
	}, viewStated)
}

func (s *Service) strike(r Request, reason string, next domain.Version) (domain.Strike, error) {
	var bad domain.Fields
	checkText(&bad, "/reason", reason, required)
	return domain.Strike{Reason: reason, At: s.now(), By: r.Caller.Key, Version: next}, bad.Err("A reason is needed.")
}

package service

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/timebase"

	"github.com/google/uuid"
)

// An Acceptance says which measurements a clip gives. None: the first segment,
// for the pair that was named when the clip was sent.
type Acceptance struct {
	Takes []AcceptedTake `json:"takes"`
}

// An AcceptedTake makes one measurement of a clip: of a segment of its result,
// or of readings of a person who stepped through it. What is empty is as it was
// said when the clip was sent.
type AcceptedTake struct {
	Segment    int          `json:"segment"` // of the result, from 0; without Readings
	Picture    string       `json:"picture"`
	Sound      string       `json:"sound"`
	First      string       `json:"first"`
	Second     string       `json:"second"`
	ReadAt     string       `json:"read_at"`
	CardSource string       `json:"card_source"`
	Settings   []NewSetting `json:"settings"`
	DistanceM  *float64     `json:"distance_m"`

	Method    string       `json:"method"` // with Readings: eye or clap
	Eye       string       `json:"eye"`
	FrameRate string       `json:"frame_rate"`
	Readings  []NewReading `json:"readings"`
}

// An Accepted clip comes with its measurements and what follows from each.
type Accepted struct {
	Clip  ClipView
	Taken []Taken
}

// AcceptClip puts what a clip gives into the book. All its measurements share
// one power-up, and all are stored or none. A repeat gets the first answer.
func (c *Clips) AcceptClip(ctx context.Context, r Request, id string, match Match, in Acceptance) (Accepted, error) {
	clip, _, _, err := c.findToChange(ctx, r, id)
	if err != nil {
		return Accepted{}, err
	}
	r.Once = "" // the clip remembers it itself
	sum := decisionFingerprint("accept", in)
	_, err = write(ctx, c.service, r, func(b *book.Book, next domain.Version) (draft, error) {
		if clip.State == ClipAccepted && clip.Decision.Fingerprint == sum {
			return draft{subject: id, asOf: clip.Decision.Version}, nil
		}
		if err := match.check(clip.Row); err != nil {
			return draft{}, err
		}
		if clip.State.Running() || clip.State == ClipAccepted {
			return draft{}, domain.Errorf(domain.Conflict, "The clip is %s: only one that stands still and is not accepted can be accepted.", clip.State)
		}
		return c.draftTakes(b, r, next, clip, in, sum)
	}, func(b *book.Book, id string) (string, error) { return id, nil })
	if err != nil {
		return Accepted{}, err
	}
	return c.accepted(ctx, r, id)
}

// accepted answers with the measurements as the acceptance left the book.
func (c *Clips) accepted(ctx context.Context, r Request, id string) (Accepted, error) {
	clip, rig, b, err := c.findToChange(ctx, r, id)
	if err != nil {
		return Accepted{}, err
	}
	out := Accepted{Clip: view(b, rig, clip)}
	if b, err = c.service.bookAt(ctx, clip.Decision.Version); err != nil {
		return Accepted{}, err
	}
	for _, m := range clip.Measurements {
		taken, err := c.service.taken(ctx, b, r.Caller, m.String())
		if err != nil {
			return Accepted{}, err
		}
		out.Taken = append(out.Taken, taken)
	}
	return out, nil
}

func (c *Clips) draftTakes(b *book.Book, r Request, next domain.Version, clip *Clip, in Acceptance, sum domain.Digest) (draft, error) {
	takes := in.Takes
	if len(takes) == 0 {
		if clip.Result != nil && len(clip.Result.Segments) > 1 {
			return draft{}, oneFault("/segments", fmt.Sprintf("the recording has %d segments", len(clip.Result.Segments)), "which chains each segment compares")
		}
		takes = []AcceptedTake{{}}
	}
	d := c.service.newDrafting(b, r.Caller, next)
	var bad domain.Fields
	for i := range takes {
		at := fmt.Sprintf("/segments/%d", i)
		m, ok := clip.take(&bad, at, &takes[i])
		if !ok {
			continue
		}
		m.Rig, m.ClientID = clip.Rig.String(), uuid.NewSHA1(clip.ID.UUID, fmt.Appendf(nil, "take %d", i)).String()
		if i > 0 {
			m.PowerUp = "same" // as the take before, which is at the same instant
		}
		if _, err := d.add(m); err != nil {
			e, isFault := errors.AsType[*domain.Error](err)
			if !isFault || e.Code != domain.Invalid {
				return draft{}, err
			}
			for _, f := range e.Fields {
				bad.Add(at+f.Pointer, f.Detail, f.Send)
			}
		}
	}
	if err := bad.Err("The acceptance is not valid."); err != nil {
		return draft{}, err
	}
	return draft{facts: &d.facts, subject: clip.ID.String(), also: func(ctx context.Context, tx Tx) error {
		_, err := tx.ChangeClip(ctx, clip.ID, func(now *Clip) error {
			if now.Row != clip.Row {
				return (Match{Given: true}).check(now.Row)
			}
			now.State = ClipAccepted
			now.Decision = &ClipDecision{By: r.Caller.Key, At: c.service.now(), Fingerprint: sum, Version: next}
			for i := range d.facts.Measurements {
				now.Measurements = append(now.Measurements, d.facts.Measurements[i].ID)
			}
			return nil
		})
		return err
	}}, nil
}

// take returns the measurement that one take of the clip asks for.
func (c *Clip) take(bad *domain.Fields, at string, in *AcceptedTake) (NewMeasurement, bool) {
	m := c.Ask.measurement()
	m.Clip = c.ID
	if in.Picture != "" || in.Sound != "" || in.First != "" || in.Second != "" {
		m.Picture, m.Sound, m.First, m.Second = in.Picture, in.Sound, in.First, in.Second
	}
	m.ReadAt, m.CardSource = orDefault(in.ReadAt, m.ReadAt), orDefault(in.CardSource, m.CardSource)
	if in.DistanceM != nil {
		m.DistanceM = in.DistanceM
	}
	m.Settings = overlaid(m.Settings, in.Settings)
	if len(in.Readings) > 0 {
		m.Method, m.Eye, m.FrameRate, m.Readings = in.Method, in.Eye, in.FrameRate, in.Readings
		byHand := m.Method == string(domain.ByEye) || m.Method == string(domain.Clap)
		bad.Check(byHand, at+"/method", fmt.Sprintf("%q is not how a person reads a recording", short(m.Method)), "eye with the card, clap without")
		if m.Method == string(domain.Clap) {
			m.CardSource = in.CardSource
		}
		return m, byHand
	}
	before := len(*bad)
	bad.Check(in.Method == "" && in.Eye == "" && in.FrameRate == "", at+"/readings", "a reading by eye has none", "readings, or no method, eye and frame_rate")
	if c.Result == nil || in.Segment < 0 || in.Segment >= len(c.Result.Segments) {
		bad.Add(at+"/segment", "the recording has no such measured segment", "a segment of its result, or readings of your own with the method eye or clap")
	}
	if len(*bad) > before {
		return m, false
	}
	found := &c.Result.Segments[in.Segment]
	u, spread := max(found.UMS, minU), found.EventSDMS
	m.Method = string(c.Result.Method)
	m.Readings = []NewReading{{OffsetMS: &found.OffsetMS, UMS: &u}}
	m.EventSDMS, m.DriftPPM = &spread, found.DriftPPM
	if _, err := timebase.ParseRate(c.Result.FrameRate); err == nil && m.Method == string(domain.Clip) {
		m.FrameRate = c.Result.FrameRate // what a phone gives may be no rate at all: then the rig's stands
	}
	return m, true
}

// overlaid returns settings with those of over in place of theirs.
func overlaid(settings, over []NewSetting) []NewSetting {
	out := slices.Clone(over)
	for _, s := range settings {
		if !slices.ContainsFunc(over, func(o NewSetting) bool { return o.Control == s.Control }) {
			out = append(out, s)
		}
	}
	return out
}

// queue has the clip analysed from scratch.
func (c *Clip) queue(now time.Time) {
	c.State, c.Progress, c.Failure = ClipQueued, 0, ""
	c.Attempt++
	c.QueuedAt, c.StartedAt, c.EndedAt, c.BeatAt = &now, nil, nil, nil
}

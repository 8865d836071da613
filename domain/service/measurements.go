package service

import (
	"cmp"
	"context"
	"slices"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
)

// NewMeasurement is a measurement as a caller sends it. Picture and Sound, or
// First and Second.
type NewMeasurement struct {
	ClientID   string       `json:"-"`
	Rig        string       `json:"-"`
	Picture    string       `json:"picture,omitempty"`
	Sound      string       `json:"sound,omitempty"`
	First      string       `json:"first,omitempty"`
	Second     string       `json:"second,omitempty"`
	ReadAt     string       `json:"read_at,omitempty"`
	Method     string       `json:"method,omitempty"`
	Eye        string       `json:"eye,omitempty"`
	FrameRate  string       `json:"frame_rate,omitempty"`
	CardSource string       `json:"card_source,omitempty"`
	Readings   []NewReading `json:"readings,omitempty"`
	Settings   []NewSetting `json:"settings,omitempty"`
	PowerUp    string       `json:"power_up,omitempty"` // new, same or a label; empty: by the clock
	DistanceM  *float64     `json:"distance_m,omitempty"`
	AirC       *float64     `json:"air_c,omitempty"`
	EventSDMS  *float64     `json:"event_sd_ms,omitempty"` // clip, tracks: spread of the events about the value
	DriftPPM   *float64     `json:"drift_ppm,omitempty"`   // clip, tracks: growth of the offset
	TakenAt    string       `json:"taken_at,omitempty"`    // RFC 3339; empty: now
	Revision   *int         `json:"revision,omitempty"`
	Note       string       `json:"note,omitempty"`

	Clip domain.ClipID `json:"-"` // the recording that it is taken from; set by AcceptClip only
}

// NewReading is a reading as a caller sends it: Frames and Heard, or OffsetMS.
type NewReading struct {
	Frames   string   `json:"frames,omitempty"` // decimal
	Heard    string   `json:"heard,omitempty"`
	OffsetMS *float64 `json:"offset_ms,omitempty"`
	UMS      *float64 `json:"u_ms,omitempty"`
	AtS      *float64 `json:"at_s,omitempty"`
}

// NewSetting is the value of a control as a caller sends it.
type NewSetting struct {
	Control string `json:"control"`
	Value   string `json:"value"` // decimal
}

// A MeasurementView is a measurement with the names of what it refers to.
type MeasurementView struct {
	*domain.Measurement
	Rig        *book.Rig
	CrewSlug   domain.Slug
	PowerUp    *domain.PowerUp
	RecordedAt time.Time // when the book got it
	Flags      []string  // what the estimates make of it, see package estimate; none while it is struck
}

// A Taken measurement is one just stored, with what follows from it.
type Taken struct {
	Measurement MeasurementView
	Offset      *Offset // of its pair; nil if it compares no picture with a sound
	Delays      *Delays
	Check       *Check // nil unless it was made with a plan dialled in
}

// AddMeasurement stores a measurement and answers with what follows from it.
// It needs the role tech, in the rig's crew. A repeat under the same ClientID
// gets the first answer.
func (s *Service) AddMeasurement(ctx context.Context, r Request, rig string, in NewMeasurement) (Taken, error) {
	if in.ClientID == "" || in.ClientID == r.Once {
		in.ClientID, r.Once = OnceID(r), ""
	}
	in.Rig = rig
	return write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		d := s.newDrafting(b, r.Caller, next)
		m, err := d.add(in)
		if err != nil {
			return draft{}, err
		}
		if m.Version != next {
			return draft{subject: m.ID.String(), asOf: m.Version}, nil
		}
		return draft{facts: &d.facts, subject: m.ID.String()}, nil
	}, func(b *book.Book, id string) (Taken, error) {
		return s.taken(ctx, b, r.Caller, id)
	})
}

// Taken returns a measurement of a rig that the caller may see, with what
// follows from it and all others now.
func (s *Service) Taken(ctx context.Context, r Request, id string) (Taken, error) {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return Taken{}, err
	}
	m, _, err := r.Caller.measurement(b, id)
	if err != nil {
		return Taken{}, err
	}
	return s.taken(ctx, b, r.Caller, m.ID.String())
}

// MayStrike returns why the caller may not strike or restore a measurement, nil
// if it may.
func (s *Service) MayStrike(ctx context.Context, r Request, id string) error {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return err
	}
	m, rig, err := r.Caller.measurement(b, id)
	if err != nil {
		return err
	}
	return s.mayStrike(b, r.Caller, rig, m)
}

func (s *Service) taken(ctx context.Context, b *book.Book, c Caller, id string) (Taken, error) {
	m, rig, _ := b.Measurement(domain.MeasurementID{UUID: mustID(id)})
	view, err := s.showMeasurement(ctx, b, rig, m)
	if err != nil {
		return Taken{}, err
	}
	t := Taken{Measurement: view}
	if t.Delays, err = s.delaysOf(ctx, b, rig, ""); err != nil {
		return Taken{}, err
	}
	t.Offset, err = s.offsetOf(ctx, b, c, rig, m)
	if err != nil {
		return Taken{}, err
	}
	t.Check, err = s.checkOf(ctx, b, rig, m)
	return t, err
}

// A BatchItem is what became of one measurement of a batch.
type BatchItem struct {
	Measurement *domain.Measurement // nil if it was refused
	Err         error               // why it was refused
}

// MaxBatch is the most measurements of one batch.
const MaxBatch = 10_000

// AddMeasurements stores those of a batch that are valid; each stands for
// itself. It needs the role tech. It returns one item per input, in order, and
// the version of the book after it.
func (s *Service) AddMeasurements(ctx context.Context, r Request, in []NewMeasurement) ([]BatchItem, domain.Version, error) {
	if err := r.Caller.need(domain.Tech); err != nil {
		return nil, 0, err
	}
	var bad domain.Fields
	bad.Check(len(in) > 0 && len(in) <= MaxBatch, "", "a batch has from 1 to 10000 measurements", "fewer at a time")
	if err := bad.Err("The batch is not valid."); err != nil {
		return nil, 0, err
	}
	in = slices.Clone(in)
	for i := range in {
		if in[i].ClientID == "" {
			in[i].ClientID = batchClientID(r, i)
		}
	}
	r.Once = "" // each item has its own identity
	var items []BatchItem
	done, err := s.commit(ctx, r, func(b *book.Book, next domain.Version) (draft, error) {
		d := s.newDrafting(b, r.Caller, next)
		items = make([]BatchItem, len(in))
		for i := range in {
			items[i].Measurement, items[i].Err = d.add(in[i])
		}
		if len(d.facts.Measurements) == 0 {
			return draft{}, nil
		}
		return draft{facts: &d.facts}, nil
	})
	return items, done.point.Version, err
}

func (s *Service) showMeasurement(ctx context.Context, b *book.Book, rig *book.Rig, m *domain.Measurement) (MeasurementView, error) {
	v := MeasurementView{Measurement: m, Rig: rig}
	if crew, ok := b.Crew(rig.Crew); ok {
		v.CrewSlug = crew.Slug
	}
	if change, ok := b.Change(m.Version); ok {
		v.RecordedAt = change.At
	}
	for _, p := range rig.PowerUps {
		if p.ID == m.PowerUp {
			v.PowerUp = p
		}
	}
	solution, err := s.solution(b)
	if err != nil {
		return MeasurementView{}, err
	}
	if report, ok := solution.Report(m.ID.String()); ok { // a struck one has none
		v.Flags = report.Flags
	}
	return v, nil
}

// Measurements returns the measurements of a rig, struck ones too, newest
// first: by version, then by identifier, both descending.
func (s *Service) Measurements(ctx context.Context, r Request, name string) ([]MeasurementView, error) {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	rig, err := r.Caller.rig(b, name)
	if err != nil {
		return nil, err
	}
	views := make([]MeasurementView, 0, len(rig.Measurements))
	for _, m := range rig.Measurements {
		v, err := s.showMeasurement(ctx, b, rig, m)
		if err != nil {
			return nil, err
		}
		views = append(views, v)
	}
	slices.SortFunc(views, func(x, y MeasurementView) int {
		return cmp.Or(cmp.Compare(y.Version, x.Version), slices.Compare(y.ID.UUID[:], x.ID.UUID[:]))
	})
	return views, nil
}

// Measurement returns one measurement of a rig that the caller may see.
func (s *Service) Measurement(ctx context.Context, r Request, id string) (MeasurementView, error) {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return MeasurementView{}, err
	}
	m, rig, err := r.Caller.measurement(b, id)
	if err != nil {
		return MeasurementView{}, err
	}
	return s.showMeasurement(ctx, b, rig, m)
}

// StrikeMeasurement takes a measurement out of the answers. Its author may do
// so for 24 hours, an editor of the rig's crew always. Striking it again
// changes nothing.
func (s *Service) StrikeMeasurement(ctx context.Context, r Request, id, reason string) (MeasurementView, error) {
	return s.strikeMeasurement(ctx, r, id, reason, false)
}

// RestoreMeasurement takes back a strike, under the same rule.
func (s *Service) RestoreMeasurement(ctx context.Context, r Request, id, reason string) (MeasurementView, error) {
	return s.strikeMeasurement(ctx, r, id, reason, true)
}

func (s *Service) strikeMeasurement(ctx context.Context, r Request, id, reason string, restores bool) (MeasurementView, error) {
	return write(ctx, s, r, func(b *book.Book, next domain.Version) (draft, error) {
		m, rig, err := r.Caller.measurement(b, id)
		if err != nil {
			return draft{}, err
		}
		if err := s.mayStrike(b, r.Caller, rig, m); err != nil {
			return draft{}, err
		}
		strike, err := s.strike(r, reason, next)
		if err != nil || (m.Struck == nil) == restores {
			return draft{subject: id}, err
		}
		fact := domain.StrikeFact{Measurement: m.ID, Restores: restores, Strike: strike}
		return draft{facts: &domain.Facts{Strikes: []domain.StrikeFact{fact}}, subject: id}, nil
	}, func(b *book.Book, id string) (MeasurementView, error) {
		m, rig, _ := b.Measurement(domain.MeasurementID{UUID: mustID(id)})
		return s.showMeasurement(ctx, b, rig, m)
	})
}

func (s *Service) mayStrike(b *book.Book, c Caller, rig *book.Rig, m *domain.Measurement) error {
	if err := c.changes(rig, domain.Tech); err != nil {
		return err
	}
	if c.Role.Includes(domain.Editor) {
		return nil
	}
	made, _ := b.Change(m.Version)
	if m.By != c.Key || s.now().Sub(made.At) > domain.RestoreWindow {
		return domain.Errorf(domain.Denied, "Only its author, within 24 hours, or an editor may do that.")
	}
	return nil
}

// Name returns CREW.SLUG of the measurement's rig.
func (v MeasurementView) Name() string { return string(v.CrewSlug) + "." + string(v.Rig.Slug) }

// MeanMS returns the mean of the readings, ms, with the settings dialled in.
func (v MeasurementView) MeanMS() float64 { return meanMS(v.Readings) }

package service_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"testing"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/google/uuid"
)

// A memory is a Store in memory: what package db does on Postgres, in its
// simplest form.
type memory struct {
	mu      sync.Mutex
	facts   []*domain.Facts // facts[i] made version i+1
	records map[string]service.Record
	reads   int
}

func (m *memory) Facts(_ context.Context, after domain.Version, upTo domain.Point) (*domain.Facts, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.reads++
	all := &domain.Facts{}
	for _, f := range m.facts[after:upTo.Version] {
		all.Changes = append(all.Changes, f.Changes...)
		all.Crews = append(all.Crews, f.Crews...)
		all.Keys = append(all.Keys, f.Keys...)
		all.Devices = append(all.Devices, f.Devices...)
		all.Stated = append(all.Stated, f.Stated...)
		all.CardSources = append(all.CardSources, f.CardSources...)
		all.Limits = append(all.Limits, f.Limits...)
		all.Rigs = append(all.Rigs, f.Rigs...)
		all.PowerUps = append(all.PowerUps, f.PowerUps...)
		all.Measurements = append(all.Measurements, f.Measurements...)
		all.Settings = append(all.Settings, f.Settings...)
		all.Strikes = append(all.Strikes, f.Strikes...)
	}
	return all, nil
}

func (m *memory) Newest(context.Context) (domain.Point, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return domain.Point{Version: domain.Version(len(m.facts))}, nil
}

func (m *memory) Write(_ context.Context, fn func(service.Tx) error) error {
	tx := &memoryTx{memory: m}
	m.mu.Lock()
	tx.version = domain.Version(len(m.facts))
	m.mu.Unlock()
	if err := fn(tx); err != nil {
		return err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if tx.added != nil {
		m.facts = append(m.facts, tx.added)
	}
	for _, r := range tx.records {
		m.records[r.Scope.String()+r.Key] = r
	}
	return nil
}

func (*memory) Watch(ctx context.Context, _ func(domain.Point), _ func(error)) { <-ctx.Done() }
func (*memory) Ping(context.Context) error                                     { return nil }

type memoryTx struct {
	*memory
	version domain.Version
	added   *domain.Facts
	records []service.Record
}

func (t *memoryTx) Version() domain.Version { return t.version }

// Epoch is always the first: imports are tested on the real store.
func (*memoryTx) Epoch() domain.Epoch { return 0 }

func (t *memoryTx) Add(_ context.Context, f *domain.Facts) error {
	if f.Last() != t.version+1 {
		return fmt.Errorf("facts of version %d, want %d", f.Last(), t.version+1)
	}
	t.added = f
	return nil
}

func (*memoryTx) Restore(context.Context, *domain.Facts) error {
	return errors.New("imports are tested on the real store")
}

func (t *memoryTx) Record(_ context.Context, scope domain.CrewID, key string) (*service.Record, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if r, ok := t.memory.records[scope.String()+key]; ok {
		return &r, nil
	}
	return nil, nil
}

func (t *memoryTx) AddRecord(_ context.Context, r service.Record) error {
	t.records = append(t.records, r)
	return nil
}

// ChangeClip finds nothing: recordings are tested on the real store.
func (*memoryTx) ChangeClip(context.Context, domain.ClipID, func(*service.Clip) error) (*service.Clip, error) {
	return nil, nil
}

// A bench is a company in memory: two crews with an editor and a tech each.
type bench struct {
	*service.Service
	store *memory
	clock *time.Time
	red   domain.Crew
	blue  domain.Crew
	keys  int
}

var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

func newBench(tb testing.TB) *bench {
	tb.Helper()
	clock := noon
	b := &bench{store: &memory{records: map[string]service.Record{}}, clock: &clock}
	b.Service = b.open(tb)
	for _, c := range []struct {
		slug string
		crew *domain.Crew
	}{{"red-van", &b.red}, {"blue-van", &b.blue}} {
		crew, err := b.AddCrew(tb.Context(), operator(), service.NewCrew{Slug: c.slug, Name: c.slug})
		if err != nil {
			tb.Fatalf("add crew: %v", err)
		}
		*c.crew = *crew
	}
	return b
}

// open returns another service on the same store, as another process would have.
func (b *bench) open(tb testing.TB) *service.Service {
	tb.Helper()
	s, err := service.Open(tb.Context(), service.Options{
		Store: b.store, Now: func() time.Time { return *b.clock }, NewID: func() uuid.UUID { return uuid.Must(uuid.NewV7()) },
		Secret: func() [32]byte { b.keys++; return [32]byte{byte(b.keys)} }, Log: slog.New(slog.DiscardHandler),
	})
	if err != nil {
		tb.Fatalf("open: %v", err)
	}
	return s
}

func operator() service.Request { return service.Request{Caller: service.Operator()} }

// as returns a request of somebody in a crew.
func as(role domain.Role, crew domain.Crew) service.Request {
	return service.Request{Caller: service.Caller{Key: domain.KeyID{UUID: uuid.Max}, Role: role, Crew: crew.ID}}
}

func ptr[T any](x T) *T { return &x }

// addHall adds a camera, a switcher with a delay, a microphone and a rig of the
// red van that connects them.
func (b *bench) addHall(tb testing.TB) service.RigView {
	tb.Helper()
	for _, d := range []service.NewDevice{
		{Slug: "cam-a", Name: "Camera", Kind: "camera", Modes: []service.NewMode{{Slug: "m", Format: "1080p29.97"}}},
		{
			Slug: "mixer-s", Name: "Switcher", Kind: "video switcher", Modes: []service.NewMode{{Slug: "m", Format: "1080p29.97"}},
			Controls: []service.NewControl{{Slug: "mic-1-delay", Signal: "sound", Unit: "frame", Max: "8", Where: "audio page"}},
		},
		{Slug: "mic-w", Name: "Microphone", Kind: "microphone", Modes: []service.NewMode{{Slug: "m"}}},
	} {
		if _, err := b.AddDevice(tb.Context(), as(domain.Editor, b.red), d); err != nil {
			tb.Fatalf("add device: %v", err)
		}
	}
	rig, err := b.AddRig(tb.Context(), as(domain.Editor, b.red), hall())
	if err != nil {
		tb.Fatalf("add rig: %v", err)
	}
	return rig
}

func hall() service.NewRig {
	return service.NewRig{
		Slug: "hall", Name: "Hall", FrameRate: "29.97",
		Chains: []service.NewChain{
			{Slug: "cam-1", Signal: "picture", Stages: []service.NewStage{{Device: "cam-a", Mode: "m"}, {Device: "mixer-s", Mode: "m"}}},
			{Slug: "lectern", Signal: "sound", Stages: []service.NewStage{{Device: "mic-w", Mode: "m"}, {
				Device: "mixer-s", Mode: "m", Controls: []service.NewControlUse{{Control: "mic-1-delay", Name: "lectern-delay"}},
			}}},
		},
	}
}

// clap is a measurement of the hall: frames early, nothing dialled in.
func clap(frames string) service.NewMeasurement {
	return service.NewMeasurement{
		Picture: "cam-1", Sound: "lectern", Method: "clap", Readings: []service.NewReading{{Frames: frames, Heard: "early"}},
		Settings: []service.NewSetting{{Control: "lectern-delay", Value: "0"}},
	}
}

// code returns what class of error err is.
func code(tb testing.TB, err error) domain.Code {
	tb.Helper()
	e, ok := errors.AsType[*domain.Error](err)
	if !ok {
		tb.Fatalf("got %v, want an error for people", err)
	}
	return e.Code
}

// send returns what the error says to send at pointer.
func send(tb testing.TB, err error, pointer string) string {
	tb.Helper()
	if e, ok := errors.AsType[*domain.Error](err); ok {
		for _, f := range e.Fields {
			if f.Pointer == pointer {
				return f.Send
			}
		}
	}
	tb.Fatalf("got %v, want a fault at %s", err, pointer)
	return ""
}

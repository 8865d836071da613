// Package demo fills a book with an invented company: two crews, a dozen
// devices that nobody sells, four rigs and six weeks of measurements.
//
// The measurements come from a simulated reality (truth.go): every device has a
// true latency, every unit a small deviation of its own, every free-running
// camera a new phase at each power-up, every reader a habit. What the crews do
// with them goes through the same use cases as everybody's work: they measure,
// read the plan, dial it in and check it. A seed decides everything, identifiers
// and keys too; only the dates follow the day on which the demo starts.
package demo

import (
	"context"
	"encoding/binary"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/google/uuid"
)

// Seed is the seed of the demo that people are shown.
const Seed = 1

// Weeks is how far the demo's past goes back.
const Weeks = 6

// Keys are the keys of the demo, by role or crew.
type Keys struct {
	Admin   string
	RedVan  string // editor of the crew red-van
	BlueVan string // editor of the crew blue-van
	Join    string // secret of a link to join the crew red-van
}

// Fill writes the demo into an empty book. start is now: the demo's last day is
// the day before.
func Fill(ctx context.Context, store service.Store, seed uint64, start time.Time) (Keys, error) {
	f := &filler{
		random: rand.New(rand.NewPCG(seed, 0xde1a)),
		clock:  start.UTC().Truncate(time.Hour).AddDate(0, 0, -7*Weeks),
	}
	use, err := service.Open(ctx, service.Options{
		Store: store, Now: func() time.Time { return f.clock }, NewID: f.newID, Secret: f.secret,
		Log: slog.New(slog.DiscardHandler),
	})
	if err != nil {
		return Keys{}, err
	}
	if use.Version() != 0 {
		return Keys{}, fmt.Errorf("the demo needs an empty book; this one has version %d", use.Version())
	}
	f.use = use
	if f.reality, err = newReality(f.random); err != nil {
		return Keys{}, err
	}
	if err := f.company(ctx); err != nil {
		return Keys{}, err
	}
	for week := range Weeks {
		if err := f.week(ctx, week, start); err != nil {
			return Keys{}, fmt.Errorf("week %d of the demo: %w", week+1, err)
		}
		if _, err := f.use.Refit(ctx); err != nil {
			return Keys{}, fmt.Errorf("week %d of the demo: %w", week+1, err)
		}
	}
	link, err := f.use.AddJoinLink(ctx, f.as("red-van"), service.NewJoinLink{Label: "demo", Hours: service.MaxJoinHours})
	f.keys.Join = link.Text
	return f.keys, err
}

// A filler writes the demo.
type filler struct {
	use     *service.Service
	random  *rand.Rand
	reality *reality
	clock   time.Time
	count   uint64
	keys    Keys
	crews   map[string]service.Caller
}

// newID returns identifiers in the form of version 7, counted instead of timed:
// the seed decides them, and they still sort in the order of making.
func (f *filler) newID() uuid.UUID {
	f.count++
	var id uuid.UUID
	binary.BigEndian.PutUint64(id[:8], f.count<<16)
	binary.BigEndian.PutUint64(id[8:], f.random.Uint64())
	id[6] = 0x70 | id[6]&0x0f
	id[8] = 0x80 | id[8]&0x3f
	return id
}

func (f *filler) secret() (s [32]byte) {
	for i := range 4 {
		binary.BigEndian.PutUint64(s[8*i:], f.random.Uint64())
	}
	return s
}

// as returns the request of a crew's editor.
func (f *filler) as(crew string) service.Request { return service.Request{Caller: f.crews[crew]} }

func (f *filler) company(ctx context.Context) error {
	operator := service.Request{Caller: service.Operator()}
	f.crews = map[string]service.Caller{}
	for _, c := range []service.NewCrew{{Slug: "red-van", Name: "Red van"}, {Slug: "blue-van", Name: "Blue van"}} {
		crew, err := f.use.AddCrew(ctx, operator, c)
		if err != nil {
			return err
		}
		key, err := f.use.AddKey(ctx, operator, service.NewKey{Role: "editor", Crew: c.Slug, Label: c.Name + ", lead technician"})
		if err != nil {
			return err
		}
		f.crews[c.Slug] = service.Caller{Key: key.ID, Role: domain.Editor, Crew: crew.ID}
		if c.Slug == "red-van" {
			f.keys.RedVan = key.Text
		} else {
			f.keys.BlueVan = key.Text
		}
	}
	admin, err := f.use.AddKey(ctx, operator, service.NewKey{Role: "admin", Label: "Company office"})
	if err != nil {
		return err
	}
	f.keys.Admin = admin.Text
	for _, d := range catalogue() {
		if _, err := f.use.AddDevice(ctx, f.as("red-van"), d); err != nil {
			return fmt.Errorf("device %s: %w", d.Slug, err)
		}
	}
	for _, v := range stated() {
		if _, err := f.use.AddStated(ctx, f.as("blue-van"), v.device, v.NewStated); err != nil {
			return fmt.Errorf("stated value of %s: %w", v.device, err)
		}
	}
	for _, r := range rigs() {
		if _, err := f.use.AddRig(ctx, f.as(r.Crew), r); err != nil {
			return fmt.Errorf("rig %s: %w", r.Slug, err)
		}
	}
	return nil
}

// Package pagestest shows pages on real recordings, through a real decoder, to a
// real browser. All that needs no recording is tested beside the pages.
package pagestest_test

import (
	"context"
	"testing"
	"time"

	"delaybook/api/pages/browsertest"
	"delaybook/cmd/delaybook/demo"
	"delaybook/cmd/internal/analyst"
	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/db"
	"delaybook/db/clipfiles"
	"delaybook/db/dbtest"
	"delaybook/domain/service"
	"delaybook/migrations"
)

var demoKeys demo.Keys

func TestMain(m *testing.M) {
	browsertest.Main(func() { dbtest.Main(m, migrateAndFill) })
}

func migrateAndFill(ctx context.Context, url string) error {
	if err := migrations.Up(ctx, url); err != nil {
		return err
	}
	store, err := db.Open(ctx, url, db.Options{MaxConns: 2})
	if err != nil {
		return err
	}
	defer store.Close()
	demoKeys, err = demo.Fill(ctx, store, demo.Seed, time.Now())
	return err
}

// A cinema is a service with the book of the demo whose recordings are decoded
// by a real decoder.
type cinema struct{ *browsertest.Site }

func newCinema(t *testing.T) *cinema {
	t.Helper()
	store, err := db.Open(t.Context(), dbtest.New(t), db.Options{MaxConns: 4})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	files, err := clipfiles.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	a := analyst.New(decodertest.OpenNative(t, decoder.Limits{}), nil, time.Now)
	return &cinema{browsertest.Serve(t, store, time.Now, browsertest.Recordings{Files: files, Uploads: files.Uploads(), Analyst: a, Viewer: a})}
}

func (c *cinema) editor(t *testing.T) service.Request {
	t.Helper()
	who, err := c.Use.Authenticate(t.Context(), demoKeys.RedVan)
	if err != nil {
		t.Fatal(err)
	}
	return service.Request{Caller: who}
}

// joined is a phone on which a tech has joined the red van.
func (c *cinema) joined(t *testing.T, name string) *browsertest.Phone {
	t.Helper()
	phone := browsertest.NewPhone(t, c.Site)
	link, err := c.Use.AddJoinLink(t.Context(), c.editor(t), service.NewJoinLink{})
	if err != nil {
		t.Fatal(err)
	}
	phone.Open("/join?link=" + link.Text)
	phone.Type("#name", name)
	phone.Follow(browsertest.Named("Join"))
	return phone
}

func (c *cinema) measurements(t *testing.T, rig string) []service.MeasurementView {
	t.Helper()
	all, err := c.Use.Measurements(t.Context(), c.editor(t), rig)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

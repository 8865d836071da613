package pages_test

import (
	"context"
	"testing"
	"time"

	"delaybook/api/pages/browsertest"
	"delaybook/cmd/delaybook/demo"
	"delaybook/db"
	"delaybook/db/clipfiles"
	"delaybook/db/dbtest"
	"delaybook/domain/service"
	"delaybook/migrations"
)

// demoKeys are those of the book that every test gets a copy of.
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

// A company is a service with the book of the demo, and keys to it.
type company struct {
	*browsertest.Site
	keys demo.Keys
}

func newCompany(t *testing.T) *company {
	t.Helper()
	return &company{browsertest.Serve(t, bookOfTheDemo(t), time.Now, recordings(t)), demoKeys}
}

func bookOfTheDemo(t *testing.T) *db.Store {
	t.Helper()
	store, err := db.Open(t.Context(), dbtest.New(t), db.Options{MaxConns: 4})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	return store
}

// recordings are in a folder of the test; what is in them says what is found.
func recordings(t *testing.T) browsertest.Recordings {
	t.Helper()
	files, err := clipfiles.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	return browsertest.Recordings{Files: files, Uploads: files.Uploads(), Analyst: scripted{}, Viewer: scripted{}}
}

// editor is a request of the lead technician of the red van.
func (c *company) editor(t *testing.T) service.Request {
	t.Helper()
	who, err := c.Use.Authenticate(t.Context(), c.keys.RedVan)
	if err != nil {
		t.Fatal(err)
	}
	return service.Request{Caller: who}
}

// lastMeasurement is the identifier of the newest one of a rig of the red van.
func (c *company) lastMeasurement(t *testing.T, rig string) string {
	t.Helper()
	all, err := c.Use.Measurements(t.Context(), c.editor(t), rig)
	if err != nil {
		t.Fatal(err)
	}
	return all[0].ID.String()
}

// joined is a phone on which a tech has joined the red van.
func (c *company) joined(t *testing.T, name string) *browsertest.Phone {
	t.Helper()
	phone := browsertest.NewPhone(t, c.Site)
	c.join(t, phone, name)
	return phone
}

// join lets a tech join the red van.
func (c *company) join(t *testing.T, phone *browsertest.Phone, name string) {
	t.Helper()
	link, err := c.Use.AddJoinLink(t.Context(), c.editor(t), service.NewJoinLink{})
	if err != nil {
		t.Fatal(err)
	}
	phone.Open("/join?link=" + link.Text)
	phone.Type("#name", name)
	phone.Follow(browsertest.Named("Join"))
}

package pages_test

import (
	"testing"
	"time"

	"delaybook/api/pages/browsertest"
	"delaybook/cmd/delaybook/demo"
	"delaybook/db"
	"delaybook/db/dbtest"
	"delaybook/domain/service"
	"delaybook/migrations"
)

func TestMain(m *testing.M) { browsertest.Main(func() { dbtest.Main(m, migrations.Up) }) }

// A company is a service with the book of the demo, and keys to it.
type company struct {
	*browsertest.Site
	keys demo.Keys
}

func newCompany(t *testing.T) *company {
	t.Helper()
	store, err := db.Open(t.Context(), dbtest.New(t), db.Options{MaxConns: 4})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	keys, err := demo.Fill(t.Context(), store, demo.Seed, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	return &company{browsertest.Serve(t, store, time.Now), keys}
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

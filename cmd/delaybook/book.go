package main

import (
	"context"
	"crypto/rand"
	"time"

	"delaybook/domain/service"

	"github.com/google/uuid"
)

// openService opens the use cases on a store, with the clock and the chance of
// this machine.
func (p *program) openService(ctx context.Context, store service.Store) (*service.Service, error) {
	return service.Open(ctx, service.Options{Store: store, Now: now, NewID: newID, Secret: secret, Log: p.log})
}

// now is the time of this machine.
func now() time.Time { return time.Now() }

// newID returns an identifier that begins with the time, so that new rows come
// last in every index.
func newID() uuid.UUID { return uuid.Must(uuid.NewV7()) }

func secret() (s [32]byte) {
	_, _ = rand.Read(s[:]) // never fails: crypto/rand ends the program instead
	return s
}

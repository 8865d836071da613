// Package service holds the use cases of delaybook: what a caller may ask of
// the book and may write into it. It decides who may do what (access.go), keeps
// the book in memory in step with the store (line.go), makes every write one
// transaction that can be repeated safely (write.go), and answers with
// estimates and plans from the pure packages.
//
// It knows neither HTTP nor SQL. References from callers are slugs and texts as
// people write them; every fault of a request is gathered and named by JSON
// pointer, with what to send instead.
package service

import (
	"context"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"

	"github.com/google/uuid"
)

// Options are what a Service stands on. Every field is needed.
type Options struct {
	Store  Store
	Now    func() time.Time // used to the microsecond, which is what is stored
	NewID  func() uuid.UUID // identifiers of new things
	Secret func() [32]byte  // unguessable: the secret part of new keys
	Log    *slog.Logger
}

// A Service answers and writes. It is safe for concurrent use.
type Service struct {
	store  Store
	now    func() time.Time
	newID  func() uuid.UUID
	secret func() [32]byte
	log    *slog.Logger

	line    chan struct{} // held by whoever makes the next book
	current atomic.Pointer[book.Book]
	grown   chan struct{} // a new book is there; see Tend
	blind   atomic.Bool   // changes by other processes are not seen for now
	past    *past
	answers *answers
}

// Open reads the book from the store and returns a Service that stands on it.
// Call [Service.Follow] to keep it in step with other processes.
func Open(ctx context.Context, o Options) (*Service, error) {
	s := newService(o)
	s.current.Store(book.New(0))
	if err := s.catchUp(ctx); err != nil {
		return nil, fmt.Errorf("read the book: %w", err)
	}
	return s, nil
}

func newService(o Options) *Service {
	return &Service{
		store: o.Store, now: func() time.Time { return o.Now().Truncate(time.Microsecond) }, newID: o.NewID, secret: o.Secret, log: o.Log,
		line: make(chan struct{}, 1), past: newPast(), answers: newAnswers(), grown: make(chan struct{}, 1),
	}
}

// Ready returns an error while the service can not answer from its store.
func (s *Service) Ready(ctx context.Context) error { return s.store.Ping(ctx) }

// Version returns the newest version of the book that the service knows of.
func (s *Service) Version() domain.Version { return s.current.Load().Version() }

// Point returns the newest version of the book that the service knows of, with
// the epoch of the book.
func (s *Service) Point() domain.Point { return s.current.Load().Point() }

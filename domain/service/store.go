package service

import (
	"context"
	"errors"

	"delaybook/domain"
)

// ErrReplaced says that the book of the store is of another epoch than the one
// that was asked for: an import took its place.
var ErrReplaced = errors.New("an import took the place of the book")

// A Store keeps the facts of the book. Package db implements it.
type Store interface {
	// Facts returns the facts made after one version up to and including
	// another, in order of version. What carries several parts (a device, a
	// rig) is as it was at the version upTo. It returns [ErrReplaced] if the
	// book is not of the epoch of upTo.
	Facts(ctx context.Context, after domain.Version, upTo domain.Point) (*domain.Facts, error)

	// Newest returns the newest version of the book, with its epoch.
	Newest(ctx context.Context) (domain.Point, error)

	// Write runs fn in one transaction that holds the book's lock, so that no
	// other writer of any process comes between. It commits if fn returns nil,
	// and otherwise rolls back and returns fn's error. fn may be run again if
	// the database asks for it, and must not keep tx.
	//
	// An error that says nothing of the fate of the transaction (a lost
	// connection while committing) is returned as it is: the caller must read
	// Newest to know.
	Write(ctx context.Context, fn func(tx Tx) error) error

	// Watch calls changed with the newest version, once when it starts and then
	// whenever a write of any process was committed, until ctx ends. It
	// reconnects by itself. lost is called when it can not see changes for the
	// time being, before the next call of changed.
	Watch(ctx context.Context, changed func(domain.Point), lost func(error))

	// Ping reports whether the database answers.
	Ping(ctx context.Context) error
}

// A Tx is a transaction that holds the book's lock.
type Tx interface {
	// Version is the version of the book when the lock was taken. It does not
	// change until facts are added or restored.
	Version() domain.Version

	// Epoch is the epoch of the book when the lock was taken.
	Epoch() domain.Epoch

	// Add stores facts, all of which carry the version Version()+1, and makes
	// that the version of the book. It may be called once.
	Add(ctx context.Context, facts *domain.Facts) error

	// Restore stores all facts of another book, versions 1 to the last, makes
	// their last the version of the book, and begins the next epoch. It takes
	// the place of a book that holds only keys, which are gone unless they are
	// among the facts; what was recorded of their making is then recorded with
	// the last version. It may be called once, instead of Add. An error of code
	// Malformed says what the facts lack.
	Restore(ctx context.Context, facts *domain.Facts) error

	// ChangeClip is ClipStore.ChangeClip within this transaction; fn must not
	// leave the clip queued.
	ChangeClip(ctx context.Context, id domain.ClipID, fn func(*Clip) error) (*Clip, error)

	// Record returns what was recorded under key in scope, or nil.
	Record(ctx context.Context, scope domain.CrewID, key string) (*Record, error)

	// AddRecord stores that key was used. It commits with the rest.
	AddRecord(ctx context.Context, r Record) error
}

// A Record remembers a write that carried an idempotency key. The answer is
// not kept: it is computed again from the book at Version, which gives the
// same.
type Record struct {
	Scope       domain.CrewID // zero: the company
	Key         string
	Fingerprint [32]byte       // of the request
	Version     domain.Version // of the book after the write
	Subject     string         // what the write was about, for the use case that wrote it
}

// Package book holds the book in memory: every fact up to one version, with
// the look-ups that the use cases need. A Book never changes; [Book.With]
// makes the next one and shares what did not change, so that a reader may keep
// a Book for as long as it likes while writers go on.
//
// It decides nothing: who may see what, and what follows from the facts, is
// for package service.
package book

import (
	"cmp"
	"maps"
	"slices"
	"sync"

	"delaybook/domain"

	"github.com/google/uuid"
)

// A Book is the state of the book at one version. It is safe for concurrent use.
type Book struct {
	epoch       domain.Epoch
	change      domain.Change
	changes     []domain.Change
	crews       map[domain.CrewID]*domain.Crew
	keys        map[string]*domain.Key // by prefix
	devices     map[domain.DeviceID]*domain.Device
	stated      []*domain.Stated // in order of version
	cardSources map[domain.Slug]*domain.CardSource
	limits      map[domain.Slug]*domain.Limit
	variances   *domain.Variances // nil: none were ever fitted
	rigs        map[domain.RigID]*Rig
	deviceSlugs map[domain.Slug]domain.DeviceID
	rigSlugs    map[rigSlug]domain.RigID
	index       *index
}

type rigSlug struct {
	crew domain.CrewID
	slug domain.Slug
}

// A Rig is a rig with all that was measured and dialled in on it. Its slices
// must not be changed.
type Rig struct {
	domain.Rig
	Measurements []*domain.Measurement // in order of version
	PowerUps     []*domain.PowerUp
	Settings     []*domain.SettingsInForce // in order of At, then version
}

// index finds measurements by their identifiers. It only grows and is shared by
// all the Books of one line, so that a write need not copy a map of a million
// entries; what is newer than a Book is hidden from it by version.
type index struct {
	mu       sync.RWMutex
	byID     map[domain.MeasurementID]place
	byClient map[uuid.UUID]place
}

type place struct {
	rig     domain.RigID
	id      domain.MeasurementID
	version domain.Version
}

// New returns the empty book of an epoch, version 0.
func New(epoch domain.Epoch) *Book {
	return &Book{
		epoch:       epoch,
		crews:       map[domain.CrewID]*domain.Crew{},
		keys:        map[string]*domain.Key{},
		devices:     map[domain.DeviceID]*domain.Device{},
		cardSources: map[domain.Slug]*domain.CardSource{},
		limits:      map[domain.Slug]*domain.Limit{},
		rigs:        map[domain.RigID]*Rig{},
		deviceSlugs: map[domain.Slug]domain.DeviceID{},
		rigSlugs:    map[rigSlug]domain.RigID{},
		index:       &index{byID: map[domain.MeasurementID]place{}, byClient: map[uuid.UUID]place{}},
	}
}

// Version returns the version of the book.
func (b *Book) Version() domain.Version { return b.change.Version }

// Point returns the version of the book with its epoch.
func (b *Book) Point() domain.Point { return domain.Point{Epoch: b.epoch, Version: b.change.Version} }

// HoldsOnlyKeys reports whether nothing but keys, in use or ended, was ever
// written into the book.
func (b *Book) HoldsOnlyKeys() bool {
	return len(b.crews)+len(b.devices)+len(b.stated)+len(b.cardSources)+len(b.limits)+len(b.rigs) == 0 && b.variances == nil
}

// Change returns when and by whom version v was made.
func (b *Book) Change(v domain.Version) (domain.Change, bool) {
	i, ok := slices.BinarySearchFunc(b.changes, v, func(c domain.Change, v domain.Version) int { return int(c.Version - v) })
	if !ok {
		return domain.Change{}, false
	}
	return b.changes[i], true
}

// Crew returns the crew with the given identifier.
func (b *Book) Crew(id domain.CrewID) (*domain.Crew, bool) {
	c, ok := b.crews[id]
	return c, ok
}

// CrewBySlug returns the crew with slug s.
func (b *Book) CrewBySlug(s domain.Slug) (*domain.Crew, bool) {
	for _, c := range b.crews {
		if c.Slug == s {
			return c, true
		}
	}
	return nil, false
}

// Crews returns every crew in order of slug.
func (b *Book) Crews() []*domain.Crew {
	return sorted(b.crews, func(x, y *domain.Crew) int { return cmp.Compare(x.Slug, y.Slug) })
}

// Key returns the key with the given public prefix, revoked or not.
func (b *Book) Key(prefix string) (*domain.Key, bool) {
	k, ok := b.keys[prefix]
	return k, ok
}

// KeyByID returns the key with the given identifier, revoked or not.
func (b *Book) KeyByID(id domain.KeyID) (*domain.Key, bool) {
	for _, k := range b.keys {
		if k.ID == id {
			return k, true
		}
	}
	return nil, false
}

// Keys returns every key in order of creation.
func (b *Book) Keys() []*domain.Key {
	return sorted(b.keys, func(x, y *domain.Key) int {
		if x.Version != y.Version {
			return int(x.Version - y.Version)
		}
		return cmp.Compare(x.Prefix, y.Prefix)
	})
}

// Device returns the device with the given identifier, retired or not.
func (b *Book) Device(id domain.DeviceID) (*domain.Device, bool) {
	d, ok := b.devices[id]
	return d, ok
}

// DeviceBySlug returns the device with slug s that is not retired.
func (b *Book) DeviceBySlug(s domain.Slug) (*domain.Device, bool) {
	d, ok := b.devices[b.deviceSlugs[s]]
	return d, ok
}

// Devices returns every device, retired ones too, in order of slug, then identifier.
func (b *Book) Devices() []*domain.Device {
	return sorted(b.devices, func(x, y *domain.Device) int {
		if c := cmp.Compare(x.Slug, y.Slug); c != 0 {
			return c
		}
		return slices.Compare(x.ID.UUID[:], y.ID.UUID[:])
	})
}

// StatedValues returns every stated value, struck ones too, in order of version.
func (b *Book) StatedValues() []*domain.Stated { return b.stated }

// CardSource returns what is stated of the card source named s.
func (b *Book) CardSource(s domain.Slug) (*domain.CardSource, bool) {
	c, ok := b.cardSources[s]
	return c, ok
}

// CardSources returns all that is stated of card sources, in order of slug.
func (b *Book) CardSources() []*domain.CardSource {
	return sorted(b.cardSources, func(x, y *domain.CardSource) int { return cmp.Compare(x.Slug, y.Slug) })
}

// Variances returns the variances in use, nil if none were ever fitted.
func (b *Book) Variances() *domain.Variances { return b.variances }

// Limit returns the company's own limit with slug s.
func (b *Book) Limit(s domain.Slug) (*domain.Limit, bool) {
	l, ok := b.limits[s]
	return l, ok
}

// Limits returns the company's own limits in order of slug.
func (b *Book) Limits() []*domain.Limit {
	return sorted(b.limits, func(x, y *domain.Limit) int { return cmp.Compare(x.Slug, y.Slug) })
}

// Rig returns the rig with the given identifier, deleted or not.
func (b *Book) Rig(id domain.RigID) (*Rig, bool) {
	r, ok := b.rigs[id]
	return r, ok
}

// RigBySlug returns the rig of crew with slug s that is not deleted.
func (b *Book) RigBySlug(crew domain.CrewID, s domain.Slug) (*Rig, bool) {
	r, ok := b.rigs[b.rigSlugs[rigSlug{crew, s}]]
	return r, ok
}

// Rigs returns every rig, deleted ones too, in order of identifier.
func (b *Book) Rigs() []*Rig {
	return sorted(b.rigs, func(x, y *Rig) int { return slices.Compare(x.ID.UUID[:], y.ID.UUID[:]) })
}

// Measurement returns the measurement with the given identifier and its rig.
func (b *Book) Measurement(id domain.MeasurementID) (*domain.Measurement, *Rig, bool) {
	b.index.mu.RLock()
	at, ok := b.index.byID[id]
	b.index.mu.RUnlock()
	return b.measurementAt(at, ok)
}

// MeasurementByClientID returns the measurement that was sent with client
// identifier id, and its rig.
func (b *Book) MeasurementByClientID(id uuid.UUID) (*domain.Measurement, *Rig, bool) {
	b.index.mu.RLock()
	at, ok := b.index.byClient[id]
	b.index.mu.RUnlock()
	return b.measurementAt(at, ok)
}

func (b *Book) measurementAt(at place, ok bool) (*domain.Measurement, *Rig, bool) {
	if !ok || at.version > b.Version() {
		return nil, nil, false
	}
	r := b.rigs[at.rig]
	i, ok := slices.BinarySearchFunc(r.Measurements, at.version, func(m *domain.Measurement, v domain.Version) int {
		return int(m.Version - v)
	})
	for ; ok && i < len(r.Measurements) && r.Measurements[i].Version == at.version; i++ {
		if r.Measurements[i].ID == at.id {
			return r.Measurements[i], r, true
		}
	}
	return nil, nil, false
}

func sorted[K comparable, V any](m map[K]V, order func(x, y V) int) []V {
	return slices.SortedFunc(maps.Values(m), order)
}

package estimate

import (
	"container/list"
	"crypto/sha256"
	"encoding/binary"
	"hash"
	"math"
	"sync"

	"delaybook/domain/adjust"
)

// A Cache keeps solved components by their content, and what was read of what
// stays where it is in the books (see Book.KeptMeasurements). It is safe for
// concurrent use. A nil Cache keeps nothing.
type Cache struct {
	reader *reader

	mu    sync.Mutex
	most  int
	parts map[key]*list.Element
	order *list.List // least recently used last
}

type key [sha256.Size]byte

type cached struct {
	key  key
	part *part
}

// NewCache returns a cache of at most so many components; fewer than one is one.
func NewCache(components int) *Cache {
	return &Cache{reader: newReader(), most: max(1, components), parts: map[key]*list.Element{}, order: list.New()}
}

func (c *Cache) get(k key) *part {
	if c == nil {
		return nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	e, ok := c.parts[k]
	if !ok {
		return nil
	}
	c.order.MoveToFront(e)
	return e.Value.(cached).part
}

func (c *Cache) put(k key, p *part) {
	if c == nil {
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if _, ok := c.parts[k]; ok {
		return
	}
	c.parts[k] = c.order.PushFront(cached{k, p})
	for len(c.parts) > c.most {
		last := c.order.Back()
		delete(c.parts, last.Value.(cached).key)
		c.order.Remove(last)
	}
}

// A digest writes numbers to a hash.
type digest struct {
	hash.Hash
	buf [8]byte
}

func (d *digest) float(values ...float64) {
	for _, v := range values {
		binary.LittleEndian.PutUint64(d.buf[:], math.Float64bits(v))
		d.Write(d.buf[:])
	}
}

func (d *digest) int(values ...int) {
	for _, v := range values {
		binary.LittleEndian.PutUint64(d.buf[:], uint64(v))
		d.Write(d.buf[:])
	}
}

// fingerprint covers everything that a solved component depends on.
func fingerprint(m *adjust.Model, theta []float64) key {
	d := &digest{Hash: sha256.New()}
	d.int(len(theta), m.Columns, len(m.Random), len(m.Priors), len(m.Blocks))
	d.float(theta...)
	for _, r := range m.Random {
		d.int(r.Column, r.Param)
		d.float(r.Known, r.Kappa)
	}
	for _, p := range m.Priors {
		d.terms(p.Terms)
		d.float(p.Value, p.Variance)
	}
	for _, b := range m.Blocks {
		d.int(len(b.Levels), len(b.Rows))
		for _, l := range b.Levels {
			d.float(l.Variance, l.Kappa)
		}
		for i := range b.Rows {
			d.row(&b.Rows[i])
		}
	}
	var k key
	d.Sum(k[:0])
	return k
}

func (d *digest) terms(terms []adjust.Term) {
	d.int(len(terms))
	for _, t := range terms {
		d.int(t.Column)
		d.float(t.Coef)
	}
}

func (d *digest) row(r *adjust.Row) {
	d.terms(r.Terms)
	d.float(r.Y, r.Known, r.Kappa, r.Weight, r.Within.DF, r.Within.SS)
	d.int(r.Within.Param, len(r.Parts))
	for _, p := range r.Parts {
		d.int(p.Param)
		d.float(p.Factor)
	}
	d.float(r.Signs...)
}

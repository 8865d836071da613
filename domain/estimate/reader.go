package estimate

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"sync"
)

// A reader reads books, one version after the other. It remembers, by address,
// what it read of kept rigs and measurements, what it made of them and the
// components that they form, so that the next version costs what is new in it.
// What it remembers is what it would read again: networks are the same with and
// without it.
type reader struct {
	mu         sync.Mutex
	devices    []Device // that all below rests on
	known      *catalogue
	kept       map[*Rig]bool // rigs that were checked
	takings    map[*Measurement]*taking
	phase      PhaseRule                   // that rows rest on
	rows       map[*taking]*observation    // by first taking
	components map[*observation]*component // by first row
}

func newReader() *reader { return &reader{} }

// network reads a book. It does not change it.
func (r *reader) network(b *Book) (*network, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	n := &network{ofPair: map[string][]*observation{}, of: map[string]*component{}, ofUnit: map[string]*component{}}
	var err error
	if n.registry, err = newRegistry(b.Variances); err != nil {
		return nil, err
	}
	if n.catalogue, err = r.catalogueOf(b); err != nil {
		return nil, err
	}
	takings, err := r.readAll(n.catalogue, b)
	if err != nil {
		return nil, err
	}
	n.all = r.observe(merge(takings, ownVariances(b)), b, n.registry.phase())
	slices.SortFunc(n.all, func(a, b *observation) int { return cmp.Compare(a.id(), b.id()) })
	for _, o := range n.all {
		n.ofPair[o.pairKey()] = append(n.ofPair[o.pairKey()], o)
	}
	n.registry.addAll(n.all)
	stated, err := n.catalogue.statedRows(b)
	if err != nil {
		return nil, err
	}
	cards, err := cardRows(b, n.all)
	if err != nil {
		return nil, err
	}
	n.split(append(stated, cards...))
	if err := r.arrange(n); err != nil {
		return nil, err
	}
	r.forget(b, n)
	return n, nil
}

// catalogueOf reads devices and rigs.
func (r *reader) catalogueOf(b *Book) (*catalogue, error) {
	if r.known == nil || len(b.KeptRigs) == 0 || len(b.Devices) != len(r.devices) || len(b.Devices) > 0 && &b.Devices[0] != &r.devices[0] {
		known := &catalogue{devices: map[string]*Device{}, modes: map[[2]string]*Mode{}, lasting: map[pairNames]*pair{}}
		for i := range b.Devices {
			if err := known.addDevice(&b.Devices[i], fmt.Sprintf("Devices[%d]", i)); err != nil {
				return nil, err
			}
		}
		r.devices, r.known = b.Devices, known
		r.kept, r.takings = map[*Rig]bool{}, map[*Measurement]*taking{}
		r.rows, r.components = map[*taking]*observation{}, map[*observation]*component{}
	}
	c := *r.known
	c.kept, c.pairs = r.kept, map[pairNames]*pair{}
	c.rigs = make(map[string]*Rig, len(b.Rigs)+len(b.KeptRigs))
	for i := range b.Rigs {
		at := fmt.Sprintf("Rigs[%d]", i)
		if err := c.addRig(&b.Rigs[i], at); err != nil {
			return nil, err
		}
		if err := c.checkRig(&b.Rigs[i], at); err != nil {
			return nil, err
		}
	}
	for i, rig := range b.KeptRigs {
		at := fmt.Sprintf("KeptRigs[%d]", i)
		if err := c.addRig(rig, at); err != nil {
			return nil, err
		}
		if r.kept[rig] {
			continue
		}
		if err := c.checkRig(rig, at); err != nil {
			return nil, err
		}
		r.kept[rig] = true
	}
	return &c, nil
}

// readAll reads the measurements of a book, in any order.
func (r *reader) readAll(c *catalogue, b *Book) ([]*taking, error) {
	seen := make(map[string]bool, len(b.Measurements)+len(b.KeptMeasurements))
	out := make([]*taking, 0, len(b.Measurements)+len(b.KeptMeasurements))
	add := func(t *taking) error {
		if seen[t.m.ID] {
			at := fmt.Sprintf("Measurements[%d]", len(out))
			if n := len(out) - len(b.Measurements); n >= 0 {
				at = fmt.Sprintf("KeptMeasurements[%d]", n)
			}
			return fault(at+".ID", "an ID that no other measurement has", "the measurement ID %q is taken", t.m.ID)
		}
		seen[t.m.ID] = true
		out = append(out, t)
		return nil
	}
	for i := range b.Measurements {
		t, err := c.read(&b.Measurements[i], "")
		if err == nil {
			err = add(t)
		} else { // once more, for the place
			_, err = c.read(&b.Measurements[i], fmt.Sprintf("Measurements[%d]", i))
		}
		if err != nil {
			return nil, err
		}
	}
	for i, m := range b.KeptMeasurements {
		t := r.takings[m]
		if t == nil || t.pair.rig != c.rigs[m.Rig] {
			var err error
			if t, err = c.read(m, fmt.Sprintf("KeptMeasurements[%d]", i)); err != nil {
				return nil, err
			}
			if t.kept = r.kept[t.pair.rig]; t.kept {
				r.takings[m] = t
			}
		}
		if err := add(t); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func ownVariances(b *Book) map[string]Variance {
	own := map[string]Variance{}
	for _, v := range b.Variances {
		if len(v.Class) > len(ownClass) && v.Class[:len(ownClass)] == ownClass {
			own[v.Class] = v
		}
	}
	return own
}

// observe makes the rows of merged groups.
func (r *reader) observe(groups [][]*taking, b *Book, free PhaseRule) []*observation {
	if r.phase != free {
		r.phase, r.rows = free, map[*taking]*observation{}
	}
	own := ownVariances(b)
	out := make([]*observation, len(groups))
	for i, group := range groups {
		if o := r.rows[group[0]]; o != nil && slices.Equal(o.takings, group) && own[ownClass+o.id()].Class == "" {
			out[i] = o
			continue
		}
		if group[0].kept {
			group = slices.Clone(group) // it outlives the list that it is cut from
		}
		out[i] = observe(group, own, free)
	}
	walkPhases(out)
	for i, group := range groups {
		if group[0].kept && own[ownClass+group[0].m.ID].Class == "" {
			r.rows[group[0]] = out[i]
		}
	}
	return out
}

// arrange arranges the components of a network, taking those that are the same
// as before.
func (r *reader) arrange(n *network) error {
	for i, c := range n.components {
		if len(c.rows) > 0 {
			if before := r.components[c.rows[0]]; before != nil && before.same(c) {
				n.components[i] = before
				n.enter(before)
				continue
			}
		}
		if err := c.arrange(); err != nil {
			return err
		}
		n.enter(c)
		if len(c.rows) > 0 && c.rows[0].first().kept {
			r.components[c.rows[0]] = c
		}
	}
	return nil
}

// How much a reader remembers of what a book no longer has: rows beyond twice
// what it has, and components, which are large.
const (
	spare           = 1000
	spareComponents = 16
)

// forget drops what a book no longer has, once there is much of it.
func (r *reader) forget(b *Book, n *network) {
	if len(r.takings) > 2*len(b.KeptMeasurements)+spare {
		has := setOf(b.KeptMeasurements)
		maps.DeleteFunc(r.takings, func(m *Measurement, _ *taking) bool { return !has[m] })
	}
	if len(r.rows) > 2*len(n.all)+spare {
		has := setOf(n.all)
		maps.DeleteFunc(r.rows, func(_ *taking, o *observation) bool { return !has[o] })
	}
	if len(r.components) > len(n.components)+spareComponents {
		has := setOf(n.components)
		maps.DeleteFunc(r.components, func(_ *observation, c *component) bool { return !has[c] })
	}
	if len(r.kept) > 2*len(b.KeptRigs)+spare {
		has := setOf(b.KeptRigs)
		maps.DeleteFunc(r.kept, func(rig *Rig, _ bool) bool { return !has[rig] })
		maps.DeleteFunc(r.known.lasting, func(p pairNames, _ *pair) bool { return !has[p.rig] })
		maps.DeleteFunc(r.takings, func(_ *Measurement, t *taking) bool { return !has[t.pair.rig] })
	}
}

func setOf[T comparable](list []T) map[T]bool {
	out := make(map[T]bool, len(list))
	for _, x := range list {
		out[x] = true
	}
	return out
}

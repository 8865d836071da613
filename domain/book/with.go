package book

import (
	"cmp"
	"maps"
	"slices"

	"delaybook/domain"
)

// With returns the book with facts added. Each part of facts must be newer than
// b. It does not modify b or facts, but keeps pointers into facts, which must
// not be changed afterwards. Of the Books made from one b only one may be kept:
// they share the index of measurements.
func (b *Book) With(facts *domain.Facts) *Book {
	next := *b
	if len(facts.Changes) > 0 {
		next.change = facts.Changes[len(facts.Changes)-1]
		next.changes = append(b.changes, facts.Changes...)
	}
	next.addPeople(facts)
	next.addCatalogue(facts)
	next.addRigs(facts)
	next.addMeasurements(facts)
	next.addStrikes(facts)
	return &next
}

func (b *Book) addPeople(facts *domain.Facts) {
	if len(facts.Crews) > 0 {
		b.crews = maps.Clone(b.crews)
		for i := range facts.Crews {
			b.crews[facts.Crews[i].ID] = &facts.Crews[i]
		}
	}
	if len(facts.Keys) > 0 {
		b.keys = maps.Clone(b.keys)
		for i := range facts.Keys {
			b.keys[facts.Keys[i].Prefix] = &facts.Keys[i]
		}
	}
}

func (b *Book) addCatalogue(facts *domain.Facts) {
	if len(facts.Devices) > 0 {
		b.devices = maps.Clone(b.devices)
		b.deviceSlugs = maps.Clone(b.deviceSlugs)
		for i := range facts.Devices {
			b.addDevice(&facts.Devices[i])
		}
	}
	if len(facts.Limits) > 0 {
		b.limits = maps.Clone(b.limits)
		for i := range facts.Limits {
			b.limits[facts.Limits[i].Slug] = &facts.Limits[i]
		}
	}
	if len(facts.CardSources) > 0 {
		b.cardSources = maps.Clone(b.cardSources)
		for i := range facts.CardSources {
			b.cardSources[facts.CardSources[i].Slug] = &facts.CardSources[i]
		}
	}
	if n := len(facts.Variances); n > 0 {
		b.variances = &facts.Variances[n-1]
	}
	for i := range facts.Stated {
		b.stated = append(b.stated, &facts.Stated[i])
	}
}

func (b *Book) addDevice(d *domain.Device) {
	if old, ok := b.devices[d.ID]; ok && b.deviceSlugs[old.Slug] == d.ID {
		delete(b.deviceSlugs, old.Slug)
	}
	b.devices[d.ID] = d
	if !d.Retired {
		b.deviceSlugs[d.Slug] = d.ID
	}
}

func (b *Book) addRigs(facts *domain.Facts) {
	if len(facts.Rigs)+len(facts.Settings)+len(facts.PowerUps)+len(facts.Measurements)+len(facts.Strikes) > 0 {
		b.rigs = maps.Clone(b.rigs)
	}
	if len(facts.Rigs) > 0 {
		b.rigSlugs = maps.Clone(b.rigSlugs)
	}
	for i := range facts.Rigs {
		b.addRig(&facts.Rigs[i])
	}
	for i := range facts.PowerUps {
		r := b.ownRig(facts.PowerUps[i].Rig)
		r.PowerUps = append(r.PowerUps, &facts.PowerUps[i])
	}
	for i := range facts.Settings {
		row := &facts.Settings[i]
		r := b.ownRig(row.Rig)
		r.Settings = slices.Clone(r.Settings)
		at, _ := slices.BinarySearchFunc(r.Settings, row, bySettingsTime)
		r.Settings = slices.Insert(r.Settings, at, row)
	}
}

func bySettingsTime(x, y *domain.SettingsInForce) int {
	if c := x.At.Compare(y.At); c != 0 {
		return c
	}
	return cmp.Compare(x.Version, y.Version)
}

func (b *Book) addRig(r *domain.Rig) {
	next := &Rig{Rig: *r}
	if old, ok := b.rigs[r.ID]; ok {
		if key := (rigSlug{old.Crew, old.Slug}); b.rigSlugs[key] == r.ID {
			delete(b.rigSlugs, key)
		}
		next.Revisions = slices.Concat(old.Revisions, r.Revisions)
		next.Measurements, next.PowerUps, next.Settings = old.Measurements, old.PowerUps, old.Settings
	}
	b.rigs[r.ID] = next
	if !r.Deleted {
		b.rigSlugs[rigSlug{r.Crew, r.Slug}] = r.ID
	}
}

// ownRig returns a copy of a rig that the caller may change; b.rigs must be a
// clone already.
func (b *Book) ownRig(id domain.RigID) *Rig {
	r := *b.rigs[id]
	b.rigs[id] = &r
	return &r
}

func (b *Book) addMeasurements(facts *domain.Facts) {
	if len(facts.Measurements) == 0 {
		return
	}
	b.index.mu.Lock()
	defer b.index.mu.Unlock()
	changed := map[domain.RigID]*Rig{}
	for i := range facts.Measurements {
		m := &facts.Measurements[i]
		r, ok := changed[m.Rig]
		if !ok {
			r = b.ownRig(m.Rig)
			changed[m.Rig] = r
		}
		// Appending may write into the array that older Books share, but only
		// behind the end of their slices.
		r.Measurements = append(r.Measurements, m)
		at := place{m.Rig, m.ID, m.Version}
		b.index.byID[m.ID] = at
		b.index.byClient[m.ClientID] = at
	}
}

func (b *Book) addStrikes(facts *domain.Facts) {
	for _, s := range facts.Strikes {
		var struck *domain.Strike
		if !s.Restores {
			struck = &s.Strike
		}
		if s.Stated != (domain.StatedID{}) {
			b.stated = slices.Clone(b.stated)
			i := slices.IndexFunc(b.stated, func(v *domain.Stated) bool { return v.ID == s.Stated })
			changed := *b.stated[i]
			changed.Struck = struck
			b.stated[i] = &changed
			continue
		}
		old, rig, _ := b.Measurement(s.Measurement)
		changed := *old
		changed.Struck = struck
		r := b.ownRig(rig.ID)
		r.Measurements = slices.Clone(r.Measurements)
		r.Measurements[slices.Index(r.Measurements, old)] = &changed
	}
}

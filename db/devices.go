package db

import (
	"context"

	"delaybook/domain"

	"github.com/jackc/pgx/v5/pgtype"
)

var (
	devices     = newKeptTable("devices", "id", "version")
	deviceEdits = newTable("device_edits", "device_id", "version", "slug", "name", "kind", "notes", "retired")
	deviceSlugs = newTable("device_slugs", "slug", "device_id")
)

// addDevices writes an edit of every device, also when only a part of it is
// new: so the edits alone tell in which versions a device changed.
func (t *tx) addDevices(ctx context.Context, facts *domain.Facts) error {
	const freeSlugs = `DELETE FROM device_slugs WHERE device_id = ANY($1)`

	if len(facts.Devices) == 0 {
		return nil
	}
	var known, edits, slugs [][]any
	var ids []pgtype.UUID
	for _, d := range facts.Devices {
		id := toUUID(d.ID.UUID)
		ids = append(ids, id)
		known = append(known, []any{id, d.Version})
		edits = append(edits, []any{id, d.Version, d.Slug, d.Name, d.Kind, d.Notes, d.Retired})
		if !d.Retired {
			slugs = append(slugs, []any{d.Slug, id})
		}
	}
	if err := t.put(ctx, devices, known); err != nil {
		return err
	}
	if err := t.put(ctx, deviceEdits, edits); err != nil {
		return err
	}
	t.batch.Queue(freeSlugs, ids) // all before the first is taken: two devices may swap theirs
	if err := t.put(ctx, deviceSlugs, slugs); err != nil {
		return err
	}
	return t.addParts(ctx, facts.Devices)
}

type deviceRow struct {
	ID      pgtype.UUID    `db:"device_id"`
	Version domain.Version `db:"version"`
	Slug    domain.Slug    `db:"slug"`
	Name    string         `db:"name"`
	Kind    domain.Kind    `db:"kind"`
	Notes   string         `db:"notes"`
	Retired bool           `db:"retired"`
}

// devices reads the devices with an edit in the interval, each as its last one
// there left it, and their parts.
func (l *loader) devices() {
	const sql = `
		SELECT device_id, version, slug, name, kind, notes, retired
		FROM  (SELECT DISTINCT ON (device_id) device_id, version, slug, name, kind, notes, retired
		       FROM   device_edits
		       WHERE  version > @after AND version <= @up_to
		       ORDER  BY device_id, version DESC) AS last
		ORDER  BY version, device_id`

	read(l, sql, func(r deviceRow) error {
		l.facts.Devices = append(l.facts.Devices, domain.Device{
			ID: domain.DeviceID{UUID: r.ID.Bytes}, Slug: r.Slug, Name: r.Name, Kind: r.Kind, Notes: r.Notes,
			Retired: r.Retired, Version: r.Version,
		})
		return nil
	})
	find := finder(&l.facts.Devices, func(d *domain.Device) domain.DeviceID { return d.ID })
	l.modes(find)
	l.controls(find)
	l.units(find)
}

// finder returns a function that finds the elements of a list by key. The list
// must be complete when it is first called.
func finder[T any, K comparable](list *[]T, key func(*T) K) func(K) *T {
	var at map[K]int
	return func(k K) *T {
		if at == nil {
			at = make(map[K]int, len(*list))
			for i := range *list {
				at[key(&(*list)[i])] = i
			}
		}
		i, ok := at[k]
		if !ok {
			return nil
		}
		return &(*list)[i]
	}
}

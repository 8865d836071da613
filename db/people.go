package db

import (
	"context"
	"fmt"
	"time"

	"delaybook/domain"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgtype"
)

var (
	crews = newTable("crews", "id", "slug", "name", "version")
	keys  = newTable("keys", "id", "prefix", "hash", "role", "crew_id", "label", "created_at", "version")
)

type changeRow struct {
	Version domain.Version `db:"version"`
	At      time.Time      `db:"at"`
	By      pgtype.UUID    `db:"by_key"`
}

func (l *loader) changes() {
	const sql = `
		SELECT version, at, by_key
		FROM   versions
		WHERE  version > @after AND version <= @up_to
		ORDER  BY version`

	read(l, sql, func(r changeRow) error {
		l.facts.Changes = append(l.facts.Changes,
			domain.Change{Version: r.Version, At: r.At.UTC(), By: domain.KeyID{UUID: r.By.Bytes}})
		return nil
	})
}

func (t *tx) addCrews(ctx context.Context, facts *domain.Facts) error {
	var rows [][]any
	for _, c := range facts.Crews {
		rows = append(rows, []any{toUUID(c.ID.UUID), c.Slug, c.Name, c.Version})
	}
	return t.put(ctx, crews, rows)
}

type crewRow struct {
	ID      pgtype.UUID    `db:"id"`
	Slug    domain.Slug    `db:"slug"`
	Name    string         `db:"name"`
	Version domain.Version `db:"version"`
}

func (l *loader) crews() {
	const sql = `
		SELECT id, slug, name, version
		FROM   crews
		WHERE  version > @after AND version <= @up_to
		ORDER  BY version, id`

	read(l, sql, func(r crewRow) error {
		l.facts.Crews = append(l.facts.Crews,
			domain.Crew{ID: domain.CrewID{UUID: r.ID.Bytes}, Slug: r.Slug, Name: r.Name, Version: r.Version})
		return nil
	})
}

// addKeys inserts the keys of this version and revokes older ones.
func (t *tx) addKeys(ctx context.Context, facts *domain.Facts) error {
	const revoke = `UPDATE keys SET revoked_version = $2 WHERE id = $1 AND revoked_version IS NULL`

	var rows [][]any
	for _, k := range facts.Keys {
		if k.Version == t.next() {
			rows = append(rows, keyValues(&k))
		}
	}
	if err := t.put(ctx, keys, rows); err != nil {
		return err
	}
	revokes := false
	for _, k := range facts.Keys {
		if k.Revoked == t.next() {
			revokes = true
			t.batch.Queue(revoke, toUUID(k.ID.UUID), k.Revoked).Exec(func(tag pgconn.CommandTag) error {
				if tag.RowsAffected() != 1 {
					return fmt.Errorf("key %s is unknown or revoked already", k.ID)
				}
				return nil
			})
		}
	}
	if !revokes {
		return nil
	}
	return t.flush(ctx) // the answers must be known before the commit is sent
}

func keyValues(k *domain.Key) []any {
	return []any{toUUID(k.ID.UUID), k.Prefix, k.Hash[:], k.Role, toUUIDOrNull(k.Crew.UUID), k.Label, k.CreatedAt, k.Version}
}

type keyRow struct {
	ID        pgtype.UUID    `db:"id"`
	Prefix    string         `db:"prefix"`
	Hash      []byte         `db:"hash"`
	Role      domain.Role    `db:"role"`
	Crew      pgtype.UUID    `db:"crew_id"`
	Label     string         `db:"label"`
	CreatedAt time.Time      `db:"created_at"`
	Version   domain.Version `db:"version"`
	Revoked   domain.Version `db:"revoked_version"`
}

func (r keyRow) toDomain() (k domain.Key, err error) {
	k = domain.Key{
		ID: domain.KeyID{UUID: r.ID.Bytes}, Prefix: r.Prefix, Role: r.Role, Crew: domain.CrewID{UUID: r.Crew.Bytes},
		Label: r.Label, CreatedAt: r.CreatedAt.UTC(), Version: r.Version, Revoked: r.Revoked,
	}
	if k.Hash, err = hash(r.Hash); err != nil {
		return k, fmt.Errorf("key %s: %w", k.Prefix, err)
	}
	return k, nil
}

func (l *loader) keys() {
	const sql = `
		WITH known AS (
			SELECT id, prefix, hash, role, crew_id, label, created_at, version,
			       CASE WHEN revoked_version <= @up_to THEN revoked_version ELSE 0 END AS revoked_version
			FROM   keys
			WHERE  version <= @up_to
			AND   (version > @after OR revoked_version > @after)
		)
		SELECT id, prefix, hash, role, crew_id, label, created_at, version, revoked_version
		FROM   known
		WHERE  version > @after OR revoked_version > @after
		ORDER  BY greatest(version, revoked_version), id`

	read(l, sql, func(r keyRow) error {
		k, err := r.toDomain()
		l.facts.Keys = append(l.facts.Keys, k)
		return err
	})
}

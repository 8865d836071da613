package db

import (
	"context"

	"delaybook/domain"

	"github.com/jackc/pgx/v5/pgtype"
)

var powerUps = newTable("power_ups", "id", "rig_id", "label", "version")

func (t *tx) addPowerUps(ctx context.Context, facts *domain.Facts) error {
	var rows [][]any
	for _, p := range facts.PowerUps {
		rows = append(rows, []any{toUUID(p.ID.UUID), toUUID(p.Rig.UUID), p.Label, p.Version})
	}
	return t.put(ctx, powerUps, rows)
}

type powerUpRow struct {
	ID      pgtype.UUID    `db:"id"`
	Rig     pgtype.UUID    `db:"rig_id"`
	Label   string         `db:"label"`
	Version domain.Version `db:"version"`
}

func (l *loader) powerUps() {
	const sql = `
		SELECT id, rig_id, label, version
		FROM   power_ups
		WHERE  version > @after AND version <= @up_to
		ORDER  BY version, id`

	read(l, sql, func(r powerUpRow) error {
		l.facts.PowerUps = append(l.facts.PowerUps, domain.PowerUp{
			ID: domain.PowerUpID{UUID: r.ID.Bytes}, Rig: domain.RigID{UUID: r.Rig.Bytes}, Label: r.Label, Version: r.Version,
		})
		return nil
	})
}

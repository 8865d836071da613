package db

import (
	"context"
	"time"

	"delaybook/domain"

	"github.com/jackc/pgx/v5/pgtype"
)

var strikes = newTable("strikes", "version", "measurement_id", "stated_id", "restores", "reason", "at", "by_key")

func (t *tx) addStrikes(ctx context.Context, facts *domain.Facts) error {
	var rows [][]any
	for _, s := range facts.Strikes {
		rows = append(rows, []any{
			s.Version, toUUIDOrNull(s.Measurement.UUID), toUUIDOrNull(s.Stated.UUID), s.Restores, s.Reason, s.At,
			toUUIDOrNull(s.By.UUID),
		})
	}
	return t.put(ctx, strikes, rows)
}

type strikeRow struct {
	Version     domain.Version `db:"version"`
	Measurement pgtype.UUID    `db:"measurement_id"`
	Stated      pgtype.UUID    `db:"stated_id"`
	Restores    bool           `db:"restores"`
	Reason      string         `db:"reason"`
	At          time.Time      `db:"at"`
	By          pgtype.UUID    `db:"by_key"`
}

func (l *loader) strikes() {
	const sql = `
		SELECT version, measurement_id, stated_id, restores, reason, at, by_key
		FROM   strikes
		WHERE  version > @after AND version <= @up_to
		ORDER  BY version, measurement_id, stated_id`

	read(l, sql, func(r strikeRow) error {
		l.facts.Strikes = append(l.facts.Strikes, domain.StrikeFact{
			Measurement: domain.MeasurementID{UUID: r.Measurement.Bytes}, Stated: domain.StatedID{UUID: r.Stated.Bytes},
			Restores: r.Restores,
			Strike: domain.Strike{
				Reason: r.Reason, At: r.At.UTC(), By: domain.KeyID{UUID: r.By.Bytes}, Version: r.Version,
			},
		})
		return nil
	})
}

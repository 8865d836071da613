package db

import (
	"context"

	"delaybook/domain"

	"github.com/jackc/pgx/v5/pgtype"
)

var (
	statedValues = newTable("stated_values",
		"id", "mode_id", "signal", "minus", "value_ms", "u_ms", "half_width_ms", "source", "by_key", "version")
	cardSources = newTable("card_sources", "id", "slug", "name", "stated_ms", "u_ms", "source", "version")
	limits      = newTable("limits", "id", "slug", "name", "early_ms", "late_ms", "source", "version")
)

func (t *tx) addStated(ctx context.Context, facts *domain.Facts) error {
	var rows [][]any
	for _, s := range facts.Stated {
		rows = append(rows, []any{
			toUUID(s.ID.UUID), toUUID(s.Mode.UUID), s.Signal, toTextOrNull(s.Minus), s.ValueMS,
			toFloatOrNull(s.UMS), toFloatOrNull(s.HalfWidthMS), s.Source, toUUIDOrNull(s.By.UUID), s.Version,
		})
	}
	return t.put(ctx, statedValues, rows)
}

type statedRow struct {
	ID          pgtype.UUID    `db:"id"`
	Device      pgtype.UUID    `db:"device_id"`
	Mode        pgtype.UUID    `db:"mode_id"`
	Signal      domain.Signal  `db:"signal"`
	Minus       domain.Signal  `db:"minus"`
	ValueMS     float64        `db:"value_ms"`
	UMS         float64        `db:"u_ms"`
	HalfWidthMS float64        `db:"half_width_ms"`
	Source      string         `db:"source"`
	By          pgtype.UUID    `db:"by_key"`
	Version     domain.Version `db:"version"`
}

func (l *loader) stated() {
	const sql = `
		SELECT s.id, m.device_id, s.mode_id, s.signal, coalesce(s.minus, '') AS minus, s.value_ms,
		       coalesce(s.u_ms, 0) AS u_ms, coalesce(s.half_width_ms, 0) AS half_width_ms,
		       s.source, s.by_key, s.version
		FROM   stated_values s
		JOIN   modes m ON m.id = s.mode_id
		WHERE  s.version > @after AND s.version <= @up_to
		ORDER  BY s.version, s.id`

	read(l, sql, func(r statedRow) error {
		l.facts.Stated = append(l.facts.Stated, domain.Stated{
			ID: domain.StatedID{UUID: r.ID.Bytes}, Device: domain.DeviceID{UUID: r.Device.Bytes},
			Mode: domain.ModeID{UUID: r.Mode.Bytes}, Signal: r.Signal, Minus: r.Minus, ValueMS: r.ValueMS,
			UMS: r.UMS, HalfWidthMS: r.HalfWidthMS, Source: r.Source, By: domain.KeyID{UUID: r.By.Bytes}, Version: r.Version,
		})
		return nil
	})
}

func (t *tx) addCardSources(ctx context.Context, facts *domain.Facts) error {
	var rows [][]any
	for _, c := range facts.CardSources {
		rows = append(rows, []any{toUUID(c.ID.UUID), c.Slug, c.Name, c.StatedMS, c.UMS, c.Source, c.Version})
	}
	return t.put(ctx, cardSources, rows)
}

type cardSourceRow struct {
	ID       pgtype.UUID    `db:"id"`
	Slug     domain.Slug    `db:"slug"`
	Name     string         `db:"name"`
	StatedMS float64        `db:"stated_ms"`
	UMS      float64        `db:"u_ms"`
	Source   string         `db:"source"`
	Version  domain.Version `db:"version"`
}

func (l *loader) cardSources() {
	const sql = `
		SELECT id, slug, name, stated_ms, u_ms, source, version
		FROM   card_sources
		WHERE  version > @after AND version <= @up_to
		ORDER  BY version, id`

	read(l, sql, func(r cardSourceRow) error {
		l.facts.CardSources = append(l.facts.CardSources, domain.CardSource{
			ID: domain.CardSourceID{UUID: r.ID.Bytes}, Slug: r.Slug, Name: r.Name, StatedMS: r.StatedMS, UMS: r.UMS,
			Source: r.Source, Version: r.Version,
		})
		return nil
	})
}

func (t *tx) addLimits(ctx context.Context, facts *domain.Facts) error {
	var rows [][]any
	for _, l := range facts.Limits {
		rows = append(rows, []any{toUUID(l.ID.UUID), l.Slug, l.Name, l.EarlyMS, l.LateMS, l.Source, l.Version})
	}
	return t.put(ctx, limits, rows)
}

type limitRow struct {
	ID      pgtype.UUID    `db:"id"`
	Slug    domain.Slug    `db:"slug"`
	Name    string         `db:"name"`
	EarlyMS float64        `db:"early_ms"`
	LateMS  float64        `db:"late_ms"`
	Source  string         `db:"source"`
	Version domain.Version `db:"version"`
}

func (l *loader) limits() {
	const sql = `
		SELECT id, slug, name, early_ms, late_ms, source, version
		FROM   limits
		WHERE  version > @after AND version <= @up_to
		ORDER  BY version, id`

	read(l, sql, func(r limitRow) error {
		l.facts.Limits = append(l.facts.Limits, domain.Limit{
			ID: domain.LimitID{UUID: r.ID.Bytes}, Slug: r.Slug, Name: r.Name, EarlyMS: r.EarlyMS, LateMS: r.LateMS,
			Source: r.Source, Version: r.Version,
		})
		return nil
	})
}

package db

import (
	"context"
	"fmt"
	"time"

	"delaybook/domain"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgtype"
)

var (
	settingsInForce = newTable("settings_in_force",
		"id", "rig_id", "revision", "at", "utc_offset", "plan_version", "by_key", "version")
	settingsInForceValues = newTable("settings_in_force_values", "settings_id", "position", "control", "value")
)

func (t *tx) addSettings(ctx context.Context, facts *domain.Facts) error {
	var rows, values [][]any
	for _, s := range facts.Settings {
		id := toUUID(s.ID.UUID)
		rows = append(rows, []any{
			id, toUUID(s.Rig.UUID), s.Revision, s.At, toOffset(s.At), toVersionOrNull(s.Plan), toUUIDOrNull(s.By.UUID), s.Version,
		})
		for p, v := range s.Values {
			values = append(values, []any{id, p, v.Control, toNumeric(v.Value)})
		}
	}
	if err := t.put(ctx, settingsInForce, rows); err != nil {
		return err
	}
	return t.put(ctx, settingsInForceValues, values)
}

type settingsRow struct {
	ID       pgtype.UUID    `db:"id"`
	Rig      pgtype.UUID    `db:"rig_id"`
	Revision int            `db:"revision"`
	At       time.Time      `db:"at"`
	Offset   int            `db:"utc_offset"`
	Plan     domain.Version `db:"plan_version"`
	By       pgtype.UUID    `db:"by_key"`
	Version  domain.Version `db:"version"`
}

func (l *loader) settings() {
	const sql = `
		SELECT id, rig_id, revision, at, utc_offset, coalesce(plan_version, 0) AS plan_version, by_key, version
		FROM   settings_in_force
		WHERE  version > @after AND version <= @up_to
		ORDER  BY version, id`

	read(l, sql, func(r settingsRow) error {
		l.facts.Settings = append(l.facts.Settings, domain.SettingsInForce{
			ID: domain.SettingsID{UUID: r.ID.Bytes}, Rig: domain.RigID{UUID: r.Rig.Bytes}, Revision: r.Revision,
			At: inZone(r.At, r.Offset), Plan: r.Plan, By: domain.KeyID{UUID: r.By.Bytes}, Version: r.Version,
		})
		return nil
	})
	l.settingsValues(finder(&l.facts.Settings, func(s *domain.SettingsInForce) domain.SettingsID { return s.ID }))
}

func (l *loader) settingsValues(settings func(domain.SettingsID) *domain.SettingsInForce) {
	const sql = `
		SELECT settings_id AS of_id, control, value
		FROM   settings_in_force_values
		WHERE  settings_id = ANY (ARRAY(SELECT id FROM settings_in_force WHERE version > @after AND version <= @up_to))
		ORDER  BY settings_id, position`

	l.controlValues(sql, func(of uuid.UUID, value domain.Setting) {
		s := settings(domain.SettingsID{UUID: of})
		s.Values = append(s.Values, value)
	})
}

type controlValueRow struct {
	Of      pgtype.UUID    `db:"of_id"`
	Control domain.Slug    `db:"control"`
	Value   pgtype.Numeric `db:"value"`
}

// controlValues reads what controls stood at, each row with what it is part of.
func (l *loader) controlValues(sql string, add func(of uuid.UUID, value domain.Setting)) {
	read(l, sql, func(r controlValueRow) error {
		value, err := fromNumeric(r.Value)
		if err != nil {
			return fmt.Errorf("control %s of %s: %w", r.Control, r.Of, err)
		}
		add(r.Of.Bytes, domain.Setting{Control: r.Control, Value: value})
		return nil
	})
}

package db

import (
	"context"
	"fmt"
	"time"

	"delaybook/domain"

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

type settingsValueRow struct {
	Settings pgtype.UUID    `db:"settings_id"`
	Control  domain.Slug    `db:"control"`
	Value    pgtype.Numeric `db:"value"`
}

func (l *loader) settingsValues(settings func(domain.SettingsID) *domain.SettingsInForce) {
	const sql = `
		SELECT settings_id, control, value
		FROM   settings_in_force_values
		WHERE  settings_id = ANY (ARRAY(SELECT id FROM settings_in_force WHERE version > @after AND version <= @up_to))
		ORDER  BY settings_id, position`

	read(l, sql, func(r settingsValueRow) error {
		value, err := fromNumeric(r.Value)
		if err != nil {
			return fmt.Errorf("control %s of settings %s: %w", r.Control, r.Settings, err)
		}
		s := settings(domain.SettingsID{UUID: r.Settings.Bytes})
		s.Values = append(s.Values, domain.Setting{Control: r.Control, Value: value})
		return nil
	})
}

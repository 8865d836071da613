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
	measurements = newTable("measurements", "id", "client_id", "fingerprint", "rig_id", "revision",
		"first_chain", "first_signal", "second_chain", "second_signal", "read_at", "method", "eye", "rate_num", "rate_den",
		"card_source", "power_up_id", "distance_m", "air_c", "taken_at", "taken_utc_offset", "note", "event_sd_ms", "drift_ppm", "clip_id",
		"by_key", "version")
	measurementSettings = newTable("measurement_settings", "measurement_id", "position", "control", "value")
)

func (t *tx) addMeasurements(ctx context.Context, facts *domain.Facts) error {
	rows := make([][]any, 0, len(facts.Measurements))
	var itsReadings, settings [][]any
	for i := range facts.Measurements {
		m := &facts.Measurements[i]
		rows = append(rows, measurementValues(m))
		for p, r := range m.Readings {
			values, err := readingValues(m.ID, p, r)
			if err != nil {
				return fmt.Errorf("measurement %s: %w", m.ID, err)
			}
			itsReadings = append(itsReadings, values)
		}
		for p, s := range m.Settings {
			settings = append(settings, []any{toUUID(m.ID.UUID), p, s.Control, toNumeric(s.Value)})
		}
	}
	if err := t.put(ctx, measurements, rows); err != nil {
		return err
	}
	if err := t.put(ctx, readings, itsReadings); err != nil {
		return err
	}
	return t.put(ctx, measurementSettings, settings)
}

func measurementValues(m *domain.Measurement) []any {
	num, den := toRate(m.FrameRate)
	return []any{
		toUUID(m.ID.UUID), toUUID(m.ClientID), m.Fingerprint[:], toUUID(m.Rig.UUID), m.Revision,
		m.First, m.FirstSig, m.Second, m.SecondSig, m.ReadAt, m.Method, m.Eye, num, den,
		m.CardSource, toUUID(m.PowerUp.UUID), m.DistanceM, m.AirC, m.TakenAt, toOffset(m.TakenAt), m.Note, m.EventSDMS, m.DriftPPM, toUUIDOrNull(m.Clip.UUID),
		toUUIDOrNull(m.By.UUID), m.Version,
	}
}

type measurementRow struct {
	ID          pgtype.UUID    `db:"id"`
	ClientID    pgtype.UUID    `db:"client_id"`
	Fingerprint []byte         `db:"fingerprint"`
	Rig         pgtype.UUID    `db:"rig_id"`
	Revision    int            `db:"revision"`
	First       domain.Slug    `db:"first_chain"`
	FirstSig    domain.Signal  `db:"first_signal"`
	Second      domain.Slug    `db:"second_chain"`
	SecondSig   domain.Signal  `db:"second_signal"`
	ReadAt      domain.Slug    `db:"read_at"`
	Method      domain.Method  `db:"method"`
	Eye         domain.EyeRule `db:"eye"`
	rateRow
	CardSource  domain.Slug    `db:"card_source"`
	PowerUp     pgtype.UUID    `db:"power_up_id"`
	DistanceM   *float64       `db:"distance_m"`
	AirC        *float64       `db:"air_c"`
	TakenAt     time.Time      `db:"taken_at"`
	TakenOffset int            `db:"taken_utc_offset"`
	Note        string         `db:"note"`
	EventSDMS   *float64       `db:"event_sd_ms"`
	DriftPPM    *float64       `db:"drift_ppm"`
	Clip        pgtype.UUID    `db:"clip_id"`
	By          pgtype.UUID    `db:"by_key"`
	Version     domain.Version `db:"version"`
}

func (r *measurementRow) toDomain() (m domain.Measurement, err error) {
	m = domain.Measurement{
		ID: domain.MeasurementID{UUID: r.ID.Bytes}, ClientID: r.ClientID.Bytes, Rig: domain.RigID{UUID: r.Rig.Bytes},
		Revision: r.Revision, First: r.First, FirstSig: r.FirstSig, Second: r.Second, SecondSig: r.SecondSig,
		ReadAt: r.ReadAt, Method: r.Method, Eye: r.Eye, CardSource: r.CardSource,
		PowerUp: domain.PowerUpID{UUID: r.PowerUp.Bytes}, DistanceM: r.DistanceM, AirC: r.AirC,
		TakenAt: inZone(r.TakenAt, r.TakenOffset), Note: r.Note, EventSDMS: r.EventSDMS,
		DriftPPM: r.DriftPPM, Clip: domain.ClipID{UUID: r.Clip.Bytes}, By: domain.KeyID{UUID: r.By.Bytes}, Version: r.Version,
	}
	if m.Fingerprint, err = hash(r.Fingerprint); err != nil {
		return m, err
	}
	m.FrameRate, err = r.rate()
	return m, err
}

// measurements reads measurements as they were written; what struck them out
// is a fact of its own.
func (l *loader) measurements() {
	const sql = `
		SELECT id, client_id, fingerprint, rig_id, revision, first_chain, first_signal, second_chain, second_signal,
		       read_at, method, eye, rate_num, rate_den, card_source, power_up_id, distance_m, air_c, taken_at,
		       taken_utc_offset, note, event_sd_ms, drift_ppm, clip_id, by_key, version
		FROM   measurements
		WHERE  version > @after AND version <= @up_to
		ORDER  BY version, id`

	read(l, sql, func(r measurementRow) error {
		m, err := r.toDomain()
		if err != nil {
			return fmt.Errorf("measurement %s: %w", m.ID, err)
		}
		l.facts.Measurements = append(l.facts.Measurements, m)
		return nil
	})
	find := finder(&l.facts.Measurements, func(m *domain.Measurement) domain.MeasurementID { return m.ID })
	l.readings(find)
	l.measurementSettings(find)
}

func (l *loader) measurementSettings(measurement func(domain.MeasurementID) *domain.Measurement) {
	const sql = `
		SELECT measurement_id AS of_id, control, value
		FROM   measurement_settings
		WHERE  measurement_id = ANY (ARRAY(SELECT id FROM measurements WHERE version > @after AND version <= @up_to))
		ORDER  BY measurement_id, position`

	l.controlValues(sql, func(of uuid.UUID, value domain.Setting) {
		m := measurement(domain.MeasurementID{UUID: of})
		m.Settings = append(m.Settings, value)
	})
}

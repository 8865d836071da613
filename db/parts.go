package db

import (
	"context"
	"fmt"

	"delaybook/domain"
	"delaybook/domain/timebase"

	"github.com/jackc/pgx/v5/pgtype"
)

var (
	modes = newKeptTable("modes", "id", "device_id", "position", "slug", "format", "scan", "rate_num", "rate_den",
		"firmware", "processing", "port", "shutter", "direct", "varies", "version")
	controls = newKeptTable("controls", "id", "device_id", "position", "slug", "signal", "unit", "rate_num", "rate_den",
		"sample_rate", "step", "minimum", "maximum", "location", "acts_on", "engaged_ms", "ours", "version")
	units = newKeptTable("units", "id", "device_id", "position", "tag", "notes", "version")
)

// addParts writes the modes, controls and units of devices that are new, and
// retires those that are retired.
func (t *tx) addParts(ctx context.Context, list []domain.Device) error {
	const (
		retireModes    = `UPDATE modes    SET retired_version = $2 WHERE id = ANY($1) AND retired_version IS NULL`
		retireControls = `UPDATE controls SET retired_version = $2 WHERE id = ANY($1) AND retired_version IS NULL`
		retireUnits    = `UPDATE units    SET retired_version = $2 WHERE id = ANY($1) AND retired_version IS NULL`
	)
	var newModes, newControls, newUnits parts
	for i := range list {
		d := &list[i]
		for p := range d.Modes {
			newModes.add(modeValues(d, p), d.Modes[p].Retired)
		}
		for p := range d.Controls {
			newControls.add(controlValues(d, p), d.Controls[p].Retired)
		}
		for p := range d.Units {
			u := &d.Units[p]
			newUnits.add([]any{toUUID(u.ID.UUID), toUUID(d.ID.UUID), p, u.Tag, u.Notes, d.Version}, u.Retired)
		}
	}
	if err := t.putParts(ctx, modes, newModes, retireModes); err != nil {
		return err
	}
	if err := t.putParts(ctx, controls, newControls, retireControls); err != nil {
		return err
	}
	return t.putParts(ctx, units, newUnits, retireUnits)
}

// parts are rows of parts, the identifier first, and which are retired.
type parts struct {
	rows    [][]any
	retired []any
}

func (p *parts) add(row []any, retired bool) {
	p.rows = append(p.rows, row)
	if retired {
		p.retired = append(p.retired, row[0])
	}
}

func (t *tx) putParts(ctx context.Context, to *table, p parts, retire string) error {
	if err := t.put(ctx, to, p.rows); err != nil {
		return err
	}
	if len(p.retired) > 0 {
		t.batch.Queue(retire, p.retired, t.next())
	}
	return nil
}

func modeValues(d *domain.Device, position int) []any {
	m := &d.Modes[position]
	num, den := toRate(m.FrameRate)
	direct := make([]string, len(m.Direct))
	for i, s := range m.Direct {
		direct[i] = string(s)
	}
	return []any{
		toUUID(m.ID.UUID), toUUID(d.ID.UUID), position, m.Slug, m.Format, m.Scan, num, den,
		m.Firmware, m.Processing, m.Port, m.Shutter, direct, m.Varies, d.Version,
	}
}

func controlValues(d *domain.Device, position int) []any {
	c := &d.Controls[position]
	num, den := toRate(c.Rate)
	hz := pgtype.Int8{Int64: c.SampleRate.Hz(), Valid: !c.SampleRate.IsZero()}
	return []any{
		toUUID(c.ID.UUID), toUUID(d.ID.UUID), position, c.Slug, c.Signal, c.Unit, num, den,
		hz, toNumeric(c.Step), toNumeric(c.Min), toNumeric(c.Max), c.Where, c.ActsOn, c.EngagedMS, c.Ours, d.Version,
	}
}

type modeRow struct {
	ID     pgtype.UUID   `db:"id"`
	Device pgtype.UUID   `db:"device_id"`
	Slug   domain.Slug   `db:"slug"`
	Format string        `db:"format"`
	Scan   timebase.Scan `db:"scan"`
	rateRow
	Firmware   string          `db:"firmware"`
	Processing string          `db:"processing"`
	Port       string          `db:"port"`
	Shutter    string          `db:"shutter"`
	Direct     []domain.Signal `db:"direct"`
	Varies     bool            `db:"varies"`
	Retired    bool            `db:"retired"`
}

func (l *loader) modes(device func(domain.DeviceID) *domain.Device) {
	const sql = `
		SELECT id, device_id, slug, format, scan, coalesce(rate_num, 0) AS rate_num, coalesce(rate_den, 0) AS rate_den,
		       firmware, processing, port, shutter, direct, varies, coalesce(retired_version <= @up_to, false) AS retired
		FROM   modes
		WHERE  device_id = ANY (ARRAY(SELECT device_id FROM device_edits WHERE version > @after AND version <= @up_to))
		AND    version <= @up_to
		ORDER  BY device_id, position, version, id`

	read(l, sql, func(r modeRow) error {
		m := domain.Mode{
			ID: domain.ModeID{UUID: r.ID.Bytes}, Slug: r.Slug, Format: r.Format, Scan: r.Scan, Firmware: r.Firmware,
			Processing: r.Processing, Port: r.Port, Shutter: r.Shutter, Varies: r.Varies, Retired: r.Retired,
		}
		if len(r.Direct) > 0 {
			m.Direct = r.Direct
		}
		var err error
		if m.FrameRate, err = r.rate(); err != nil {
			return fmt.Errorf("mode %s: %w", m.ID, err)
		}
		d := device(domain.DeviceID{UUID: r.Device.Bytes})
		d.Modes = append(d.Modes, m)
		return nil
	})
}

type controlRow struct {
	ID     pgtype.UUID        `db:"id"`
	Device pgtype.UUID        `db:"device_id"`
	Slug   domain.Slug        `db:"slug"`
	Signal domain.Signal      `db:"signal"`
	Unit   domain.ControlUnit `db:"unit"`
	rateRow
	SampleRate int64          `db:"sample_rate"`
	Step       pgtype.Numeric `db:"step"`
	Min        pgtype.Numeric `db:"minimum"`
	Max        pgtype.Numeric `db:"maximum"`
	Where      string         `db:"location"`
	ActsOn     string         `db:"acts_on"`
	EngagedMS  float64        `db:"engaged_ms"`
	Ours       bool           `db:"ours"`
	Retired    bool           `db:"retired"`
}

func (r controlRow) toDomain() (c domain.Control, err error) {
	c = domain.Control{
		ID: domain.ControlID{UUID: r.ID.Bytes}, Slug: r.Slug, Signal: r.Signal, Unit: r.Unit, Where: r.Where,
		ActsOn: r.ActsOn, EngagedMS: r.EngagedMS, Ours: r.Ours, Retired: r.Retired,
	}
	if c.Rate, err = r.rate(); err != nil {
		return c, err
	}
	if r.SampleRate != 0 {
		if c.SampleRate, err = timebase.NewSampleRate(r.SampleRate); err != nil {
			return c, err
		}
	}
	if c.Step, err = fromNumeric(r.Step); err != nil {
		return c, err
	}
	if c.Min, err = fromNumeric(r.Min); err != nil {
		return c, err
	}
	c.Max, err = fromNumeric(r.Max)
	return c, err
}

func (l *loader) controls(device func(domain.DeviceID) *domain.Device) {
	const sql = `
		SELECT id, device_id, slug, signal, unit, coalesce(rate_num, 0) AS rate_num, coalesce(rate_den, 0) AS rate_den,
		       coalesce(sample_rate, 0) AS sample_rate, step, minimum, maximum, location, acts_on, engaged_ms, ours,
		       coalesce(retired_version <= @up_to, false) AS retired
		FROM   controls
		WHERE  device_id = ANY (ARRAY(SELECT device_id FROM device_edits WHERE version > @after AND version <= @up_to))
		AND    version <= @up_to
		ORDER  BY device_id, position, version, id`

	read(l, sql, func(r controlRow) error {
		c, err := r.toDomain()
		if err != nil {
			return fmt.Errorf("control %s: %w", c.ID, err)
		}
		d := device(domain.DeviceID{UUID: r.Device.Bytes})
		d.Controls = append(d.Controls, c)
		return nil
	})
}

type unitRow struct {
	ID      pgtype.UUID `db:"id"`
	Device  pgtype.UUID `db:"device_id"`
	Tag     string      `db:"tag"`
	Notes   string      `db:"notes"`
	Retired bool        `db:"retired"`
}

func (l *loader) units(device func(domain.DeviceID) *domain.Device) {
	const sql = `
		SELECT id, device_id, tag, notes, coalesce(retired_version <= @up_to, false) AS retired
		FROM   units
		WHERE  device_id = ANY (ARRAY(SELECT device_id FROM device_edits WHERE version > @after AND version <= @up_to))
		AND    version <= @up_to
		ORDER  BY device_id, position, version, id`

	read(l, sql, func(r unitRow) error {
		d := device(domain.DeviceID{UUID: r.Device.Bytes})
		d.Units = append(d.Units, domain.Unit{
			ID: domain.UnitID{UUID: r.ID.Bytes}, Tag: r.Tag, Notes: r.Notes, Retired: r.Retired,
		})
		return nil
	})
}

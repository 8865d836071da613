package db

import (
	"fmt"
	"math"

	"delaybook/domain"

	"github.com/jackc/pgx/v5/pgtype"
	"github.com/shopspring/decimal"
)

var readings = newTable("readings", "measurement_id", "position", "half_frames", "heard", "offset_ms", "u_ms", "at_s")

// half is the grid of frames counted by eye, which are stored as whole halves.
var half = decimal.New(5, -1)

func readingValues(of domain.MeasurementID, position int, r domain.Reading) ([]any, error) {
	var halves pgtype.Int4
	if r.Frames != nil {
		n := r.Frames.Div(half)
		if !r.Frames.Mod(half).IsZero() || n.Abs().GreaterThan(decimal.NewFromInt(math.MaxInt32)) {
			return nil, fmt.Errorf("reading %d of %s frames is not a count of half frames", position, r.Frames)
		}
		halves = pgtype.Int4{Int32: int32(n.IntPart()), Valid: true}
	}
	return []any{toUUID(of.UUID), position, halves, r.Heard, r.OffsetMS, r.UMS, r.AtS}, nil
}

type readingRow struct {
	Measurement pgtype.UUID  `db:"measurement_id"`
	HalfFrames  *int32       `db:"half_frames"`
	Heard       domain.Heard `db:"heard"`
	OffsetMS    float64      `db:"offset_ms"`
	UMS         *float64     `db:"u_ms"`
	AtS         *float64     `db:"at_s"`
}

func (r *readingRow) toDomain() domain.Reading {
	reading := domain.Reading{Heard: r.Heard, OffsetMS: r.OffsetMS, UMS: r.UMS, AtS: r.AtS}
	if r.HalfFrames != nil {
		frames := decimal.NewFromInt32(*r.HalfFrames).Mul(half)
		reading.Frames = &frames
	}
	return reading
}

func (l *loader) readings(measurement func(domain.MeasurementID) *domain.Measurement) {
	const sql = `
		SELECT measurement_id, half_frames, heard, offset_ms, u_ms, at_s
		FROM   readings
		WHERE  measurement_id = ANY (ARRAY(SELECT id FROM measurements WHERE version > @after AND version <= @up_to))
		ORDER  BY measurement_id, position`

	read(l, sql, func(r readingRow) error {
		m := measurement(domain.MeasurementID{UUID: r.Measurement.Bytes})
		m.Readings = append(m.Readings, r.toDomain())
		return nil
	})
}

package db

import (
	"fmt"
	"time"

	"delaybook/domain"
	"delaybook/domain/timebase"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/shopspring/decimal"
)

// The types of pgtype are named explicitly, here and in the rows: COPY knows
// only the binary form, which pgx would not find behind the text methods of
// uuid.UUID and decimal.Decimal.

func toUUID(id uuid.UUID) pgtype.UUID { return pgtype.UUID{Bytes: id, Valid: true} }

// toUUIDOrNull writes the zero identifier, which means none, as null.
func toUUIDOrNull(id uuid.UUID) pgtype.UUID { return pgtype.UUID{Bytes: id, Valid: id != uuid.Nil} }

func toTextOrNull[S ~string](s S) pgtype.Text { return pgtype.Text{String: string(s), Valid: s != ""} }

func toFloatOrNull(f float64) pgtype.Float8 { return pgtype.Float8{Float64: f, Valid: f != 0} }

func toVersionOrNull(v domain.Version) pgtype.Int8 {
	return pgtype.Int8{Int64: int64(v), Valid: v != 0}
}

// toRate returns the two terms of a rate, null for the zero Rate.
func toRate(r timebase.Rate) (num, den pgtype.Int8) {
	return pgtype.Int8{Int64: r.Num(), Valid: !r.IsZero()}, pgtype.Int8{Int64: r.Den(), Valid: !r.IsZero()}
}

func toNumeric(d decimal.Decimal) pgtype.Numeric {
	return pgtype.Numeric{Int: d.Coefficient(), Exp: d.Exponent(), Valid: true}
}

func fromNumeric(n pgtype.Numeric) (decimal.Decimal, error) {
	if !n.Valid || n.NaN || n.InfinityModifier != pgtype.Finite {
		return decimal.Decimal{}, fmt.Errorf("a setting is not a finite decimal")
	}
	return decimal.NewFromBigInt(n.Int, n.Exp), nil
}

// A rateRow is a rate as it stands in a row; both terms 0 stand for none.
type rateRow struct {
	Num int64 `db:"rate_num"`
	Den int64 `db:"rate_den"`
}

func (r rateRow) rate() (timebase.Rate, error) {
	if r == (rateRow{}) {
		return timebase.Rate{}, nil
	}
	return timebase.NewRate(r.Num, r.Den)
}

// toOffset returns what stands beside an instant: the seconds that the clock of
// the person was ahead of UTC.
func toOffset(t time.Time) int {
	_, offset := t.Zone()
	return offset
}

// inZone returns the instant at as the person's clock showed it.
func inZone(at time.Time, offset int) time.Time {
	if offset == 0 {
		return at.UTC()
	}
	return at.In(time.FixedZone("", offset))
}

// hash returns the 32 bytes of a SHA-256.
func hash(b []byte) (h [32]byte, err error) {
	if len(b) != len(h) {
		return h, fmt.Errorf("a hash has %d bytes instead of %d", len(b), len(h))
	}
	return [32]byte(b), nil
}

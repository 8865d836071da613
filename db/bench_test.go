package db_test

import (
	"fmt"
	"math"
	"testing"

	"delaybook/db"
	"delaybook/db/dbtest"
	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
)

// The columns that both the store and the bare baseline fill.
var (
	measurementColumns = []string{
		"id", "client_id", "fingerprint", "rig_id", "revision",
		"first_chain", "first_signal", "second_chain", "second_signal", "read_at", "method", "eye", "rate_num", "rate_den",
		"card_source", "power_up_id", "taken_at", "taken_utc_offset", "note", "version",
	}
	readingColumns = []string{"measurement_id", "position", "half_frames", "heard", "offset_ms", "u_ms", "at_s"}
	settingColumns = []string{"measurement_id", "position", "control", "value"}
)

// bareRows are the rows of n measurements, ready for the driver, so that the
// baseline does nothing else than send them.
type bareRows struct{ measurements, readings, settings [][]any }

func bare(tb testing.TB, first, n int, v domain.Version) (rows bareRows) {
	for i := first; i < first+n; i++ {
		m := take(tb, i)
		mid := pgtype.UUID{Bytes: m.ID.UUID, Valid: true}
		rows.measurements = append(rows.measurements, []any{
			mid,
			pgtype.UUID{Bytes: m.ClientID, Valid: true},
			m.Fingerprint[:],
			pgtype.UUID{Bytes: m.Rig.UUID, Valid: true},
			1,
			"cam", "picture", "mic", "sound", "programme", "eye", "one-side", 30000, 1001,
			"tablet",
			pgtype.UUID{Bytes: m.PowerUp.UUID, Valid: true},
			m.TakenAt, 0, m.Note, int64(v),
		})
		for p, r := range m.Readings {
			rows.readings = append(rows.readings, []any{mid, p, nil, "", r.OffsetMS, r.UMS, r.AtS})
		}
		for p, s := range m.Settings {
			value := pgtype.Numeric{Int: s.Value.Coefficient(), Exp: s.Value.Exponent(), Valid: true}
			rows.settings = append(rows.settings, []any{mid, p, string(s.Control), value})
		}
	}
	return rows
}

func (r bareRows) tables() []bareTable {
	return []bareTable{
		{"measurements", measurementColumns, r.measurements},
		{"readings", readingColumns, r.readings},
		{"measurement_settings", settingColumns, r.settings},
	}
}

type bareTable struct {
	name    string
	columns []string
	rows    [][]any
}

// sized returns n measurements without the other facts of manyTakes.
func sized(tb testing.TB, first, n int) domain.Facts {
	var facts domain.Facts
	for i := range n {
		facts.Measurements = append(facts.Measurements, take(tb, first+i))
	}
	return facts
}

// benchStore writes what measurements refer to: versions 1 to 3.
func benchStore(b *testing.B) (s *db.Store, url string) {
	url = dbtest.New(b)
	s = open(b, url)
	for _, facts := range stampAll(people(), catalogue(b), rigs(b)) {
		add(b, s, facts)
	}
	return s, url
}

// BenchmarkWrite is to be read beside BenchmarkBare: the same rows sent by the
// driver alone, one statement after the other for one measurement, by COPY for
// more.
func BenchmarkWrite(b *testing.B) {
	for _, n := range []int{1, 6, 7, 20, 100, 1000} {
		b.Run(fmt.Sprintf("measurements=%d", n), func(b *testing.B) {
			s, _ := benchStore(b)
			first := 0
			for v := domain.Version(4); b.Loop(); v++ {
				b.StopTimer()
				facts := stamp(v, sized(b, first, n))
				first += n
				b.StartTimer()
				if err := s.Write(b.Context(), func(tx service.Tx) error { return tx.Add(b.Context(), facts) }); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(first)/b.Elapsed().Seconds(), "measurements/s")
		})
	}
}

func BenchmarkBare(b *testing.B) {
	for _, n := range []int{1, 100, 1000} {
		b.Run(fmt.Sprintf("measurements=%d", n), func(b *testing.B) {
			_, url := benchStore(b)
			conn, err := pgx.Connect(b.Context(), url)
			if err != nil {
				b.Fatal(err)
			}
			defer conn.Close(b.Context())
			send := copyRows
			if n == 1 {
				send = insertRows
			}
			first := 0
			for v := domain.Version(4); b.Loop(); v++ {
				b.StopTimer()
				rows := bare(b, first, n, v)
				first += n
				b.StartTimer()
				if err := inVersion(b, conn, v, func() error { return send(b, conn, rows) }); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(first)/b.Elapsed().Seconds(), "measurements/s")
		})
	}
}

// inVersion does in single statements what every write does besides its rows.
func inVersion(b *testing.B, conn *pgx.Conn, v domain.Version, send func() error) error {
	return pgx.BeginFunc(b.Context(), conn, func(pgx.Tx) error {
		var old int64
		if err := conn.QueryRow(b.Context(), `SELECT version FROM book FOR UPDATE`).Scan(&old); err != nil {
			return err
		}
		if _, err := conn.Exec(b.Context(), `INSERT INTO versions (version, at) VALUES ($1, now())`, v); err != nil {
			return err
		}
		if err := send(); err != nil {
			return err
		}
		if _, err := conn.Exec(b.Context(), `UPDATE book SET version = $1`, v); err != nil {
			return err
		}
		_, err := conn.Exec(b.Context(), `SELECT pg_notify('book', $1)`, fmt.Sprint(v))
		return err
	})
}

func copyRows(b *testing.B, conn *pgx.Conn, rows bareRows) error {
	for _, t := range rows.tables() {
		if _, err := conn.CopyFrom(b.Context(), pgx.Identifier{t.name}, t.columns, pgx.CopyFromRows(t.rows)); err != nil {
			return err
		}
	}
	return nil
}

func insertRows(b *testing.B, conn *pgx.Conn, rows bareRows) error {
	for _, t := range rows.tables() {
		sql := "INSERT INTO " + t.name + " ("
		places := ""
		for i, c := range t.columns {
			if i > 0 {
				sql, places = sql+", ", places+", "
			}
			sql, places = sql+c, places+fmt.Sprintf("$%d", i+1)
		}
		for _, row := range t.rows {
			if _, err := conn.Exec(b.Context(), sql+") VALUES ("+places+")", row...); err != nil {
				return err
			}
		}
	}
	return nil
}

// BenchmarkFacts reads a whole book, and the last of its versions.
func BenchmarkFacts(b *testing.B) {
	const batches, each = 100, 1000
	s, _ := benchStore(b)
	last := domain.Version(3)
	for i := range batches {
		last++
		add(b, s, stamp(last, sized(b, i*each, each)))
	}
	b.Run("all", func(b *testing.B) {
		for b.Loop() {
			facts := factsOf(b, s, 0, math.MaxInt64)
			if len(facts.Measurements) != batches*each {
				b.Fatalf("%d measurements", len(facts.Measurements))
			}
		}
		b.ReportMetric(batches*each*float64(b.N)/b.Elapsed().Seconds(), "measurements/s")
	})
	add(b, s, stamp(last+1, sized(b, batches*each, 1)))
	b.Run("one", func(b *testing.B) {
		for b.Loop() {
			factsOf(b, s, last, last+1)
		}
	})
}

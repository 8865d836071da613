package api_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"delaybook/db/dbtest"
	"delaybook/domain"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/labstack/echo/v4"
)

// beside runs ours and the bare baseline by turns, so that both see the same
// machine, and reports how many times as fast ours is: "of-bare" 1 is equal.
func beside(b *testing.B, ours, bare func(i int) error) {
	b.Helper()
	const turn = 20
	var times [2]time.Duration
	for i, f := range []func(int) error{ours, bare} {
		for n := range turn { // warm up
			if err := f(-1 - n); err != nil {
				b.Fatalf("side %d: %v", i, err)
			}
		}
	}
	n := 0
	for b.Loop() {
		for side, f := range []func(int) error{ours, bare} {
			begin := time.Now()
			for k := range turn {
				if err := f(n + k); err != nil {
					b.Fatal(err)
				}
			}
			times[side] += time.Since(begin)
		}
		n += turn
	}
	b.ReportMetric(times[1].Seconds()/times[0].Seconds(), "of-bare")
	b.ReportMetric(float64(times[0].Microseconds())/float64(n), "us-ours")
	b.ReportMetric(float64(times[1].Microseconds())/float64(n), "us-bare")
}

// asker returns a function that makes one request and reads its answer.
func asker(b *testing.B, client *http.Client, want int, request func(i int) *http.Request) func(i int) error {
	b.Helper()
	return func(i int) error {
		response, err := client.Do(request(i))
		if err != nil {
			return err
		}
		body, err := io.ReadAll(response.Body)
		if err != nil {
			return err
		}
		if err := response.Body.Close(); err != nil {
			return err
		}
		if response.StatusCode != want {
			return fmt.Errorf("status %d, want %d: %s", response.StatusCode, want, body)
		}
		return nil
	}
}

func (s *site) request(b *testing.B, method, path string, body []byte, headers ...string) *http.Request {
	b.Helper()
	r, err := http.NewRequestWithContext(b.Context(), method, s.url+path, bytes.NewReader(body))
	if err != nil {
		b.Fatal(err)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	return r
}

// benchSite is a hall with a few measurements, without the contract's watch.
func benchSite(b *testing.B) (s *site, key string) {
	b.Helper()
	s = newSite(b)
	s.unwatched()
	s.addHall()
	key = "Bearer " + s.key("tech", "red-van")
	for range 5 {
		s.post(s.key("tech", "red-van"), "/v1/rigs/hall/measurements", clap(5, "early")).want(http.StatusCreated)
	}
	return s, key
}

// BenchmarkBeside compares the hot paths with the least that could do the same
// on the same machine: an echo handler that answers fixed bytes, one that reads
// a row, a loop of the same statements, a COPY.
func BenchmarkBeside(b *testing.B) {
	b.Run("plan-read", benchPlanRead)
	b.Run("not-modified", benchNotModified)
	b.Run("one-measurement", benchOneMeasurement)
	b.Run("batch-of-100", benchBatch)
}

func benchPlanRead(b *testing.B) {
	s, key := benchSite(b)
	pool, err := pgxpool.New(b.Context(), dbtest.New(b))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(pool.Close)
	if _, err := pool.Exec(b.Context(), `CREATE TABLE answers (id bigint PRIMARY KEY, body text)`); err != nil {
		b.Fatal(err)
	}
	if _, err := pool.Exec(b.Context(), `INSERT INTO answers VALUES (1, $1)`, strings.Repeat("x", 1024)); err != nil {
		b.Fatal(err)
	}
	e := echo.New()
	e.GET("/row", func(c echo.Context) error {
		var body string
		if err := pool.QueryRow(c.Request().Context(), `SELECT body FROM answers WHERE id = 1`).Scan(&body); err != nil {
			return err
		}
		return c.Blob(http.StatusOK, echo.MIMEApplicationJSON, []byte(body))
	})
	bare := httptest.NewServer(e)
	b.Cleanup(bare.Close)
	beside(b,
		asker(b, http.DefaultClient, http.StatusOK, func(int) *http.Request {
			return s.request(b, http.MethodGet, "/v1/rigs/hall/delays", nil, "Authorization", key)
		}),
		asker(b, http.DefaultClient, http.StatusOK, func(int) *http.Request {
			return (&site{url: bare.URL}).request(b, http.MethodGet, "/row", nil)
		}))
}

func benchNotModified(b *testing.B) {
	s, key := benchSite(b)
	tag := s.get(strings.TrimPrefix(key, "Bearer "), "/v1/rigs/hall/delays").want(http.StatusOK).header.Get("ETag")
	e := echo.New()
	body := []byte(strings.Repeat("x", 1024))
	e.GET("/bytes", func(c echo.Context) error { return c.Blob(http.StatusOK, echo.MIMEApplicationJSON, body) })
	bare := httptest.NewServer(e)
	b.Cleanup(bare.Close)
	beside(b,
		asker(b, http.DefaultClient, http.StatusNotModified, func(int) *http.Request {
			return s.request(b, http.MethodGet, "/v1/rigs/hall/delays", nil, "Authorization", key, "If-None-Match", tag)
		}),
		asker(b, http.DefaultClient, http.StatusOK, func(int) *http.Request {
			return (&site{url: bare.URL}).request(b, http.MethodGet, "/bytes", nil)
		}))
}

// bareBook is a database of the same form whose rows a bare loop adds to.
type bareBook struct {
	conn    *pgx.Conn
	rig     uuid.UUID
	powerUp uuid.UUID
}

func newBareBook(b *testing.B) *bareBook {
	b.Helper()
	conn, err := pgx.Connect(b.Context(), dbtest.New(b))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = conn.Close(b.Context()) })
	book := &bareBook{conn, uuid.New(), uuid.New()}
	crew := uuid.New()
	for _, step := range []struct {
		sql  string
		args []any
	}{
		{`INSERT INTO versions (version, at) VALUES (1, now())`, nil},
		{`INSERT INTO crews (id, slug, name, version) VALUES ($1, 'x', 'x', 1)`, []any{crew}},
		{`INSERT INTO rigs (id, crew_id, version) VALUES ($1, $2, 1)`, []any{book.rig, crew}},
		{`INSERT INTO revisions (rig_id, number, at, version, rate_num, rate_den) VALUES ($1, 1, now(), 1, 30000, 1001)`, []any{book.rig}},
		{`INSERT INTO power_ups (id, rig_id, label, version) VALUES ($1, $2, '', 1)`, []any{book.powerUp, book.rig}},
		{`UPDATE book SET version = 1`, nil},
	} {
		if _, err := conn.Exec(b.Context(), step.sql, step.args...); err != nil {
			b.Fatal(err)
		}
	}
	return book
}

var measurementColumns = []string{
	"id", "client_id", "fingerprint", "rig_id", "revision", "first_chain", "first_signal", "second_chain", "second_signal", "read_at",
	"method", "eye", "rate_num", "rate_den", "card_source", "power_up_id", "taken_at", "taken_utc_offset", "note", "version",
}

func (k *bareBook) row(id uuid.UUID, v int64) []any {
	return []any{
		[16]byte(id), [16]byte(uuid.New()), make([]byte, 32), [16]byte(k.rig), 1, "cam-1", "picture", "lectern", "sound", "programme",
		"clap", "unknown", 30000, 1001, "", [16]byte(k.powerUp), noon, 0, "", v,
	}
}

// inVersion does what every write does besides its rows, one statement after the other.
func (k *bareBook) inVersion(b *testing.B, add func(v int64) error) error {
	b.Helper()
	return pgx.BeginFunc(b.Context(), k.conn, func(pgx.Tx) error {
		var v int64
		if err := k.conn.QueryRow(b.Context(), `SELECT version FROM book FOR UPDATE`).Scan(&v); err != nil {
			return err
		}
		if _, err := k.conn.Exec(b.Context(), `INSERT INTO versions (version, at) VALUES ($1, now())`, v+1); err != nil {
			return err
		}
		if err := add(v + 1); err != nil {
			return err
		}
		if _, err := k.conn.Exec(b.Context(), `UPDATE book SET version = $1`, v+1); err != nil {
			return err
		}
		_, err := k.conn.Exec(b.Context(), `SELECT pg_notify('book', $1)`, fmt.Sprint(v+1))
		return err
	})
}

func benchOneMeasurement(b *testing.B) {
	s, key := benchSite(b)
	body := encode(b, clap(5, "early"))
	bare := newBareBook(b)
	places := make([]string, len(measurementColumns))
	for i := range places {
		places[i] = fmt.Sprintf("$%d", i+1)
	}
	insert := "INSERT INTO measurements (" + strings.Join(measurementColumns, ", ") + ") VALUES (" + strings.Join(places, ", ") + ")"
	beside(b,
		asker(b, http.DefaultClient, http.StatusCreated, func(int) *http.Request {
			return s.request(b, http.MethodPost, "/v1/rigs/hall/measurements", body, "Authorization", key, "Content-Type", "application/json")
		}),
		func(int) error {
			return bare.inVersion(b, func(v int64) error {
				id := uuid.New()
				if _, err := bare.conn.Exec(b.Context(), insert, bare.row(id, v)...); err != nil {
					return err
				}
				if _, err := bare.conn.Exec(b.Context(), `INSERT INTO readings (measurement_id, position, half_frames, heard, offset_ms)
					VALUES ($1, 0, 10, 'early', 166.8)`, id); err != nil {
					return err
				}
				_, err := bare.conn.Exec(b.Context(), `INSERT INTO measurement_settings (measurement_id, position, control, value)
					VALUES ($1, 0, 'lectern-delay', 0)`, id)
				return err
			})
		})
}

func benchBatch(b *testing.B) {
	s, key := benchSite(b)
	bare := newBareBook(b)
	const size = 100
	batch := func() []byte {
		var items []m
		for range size {
			in := clap(5, "early")
			in["rig"], in["client_id"] = "hall", uuid.NewString()
			items = append(items, in)
		}
		text, err := json.Marshal(items)
		if err != nil {
			b.Fatal(err)
		}
		return text
	}
	copyRows := func(table string, columns []string, rows [][]any) error {
		_, err := bare.conn.CopyFrom(b.Context(), pgx.Identifier{table}, columns, pgx.CopyFromRows(rows))
		return err
	}
	beside(b,
		asker(b, http.DefaultClient, http.StatusOK, func(int) *http.Request {
			return s.request(b, http.MethodPost, "/v1/measurements", batch(), "Authorization", key, "Content-Type", "application/json")
		}),
		func(int) error {
			return bare.inVersion(b, func(v int64) error {
				var measurements, readings, settings [][]any
				for range size {
					id := uuid.New()
					measurements = append(measurements, bare.row(id, v))
					readings = append(readings, []any{[16]byte(id), 0, 10, string(domain.Early), 166.8})
					settings = append(settings, []any{[16]byte(id), 0, "lectern-delay", "0"})
				}
				if err := copyRows("measurements", measurementColumns, measurements); err != nil {
					return err
				}
				if err := copyRows("readings", []string{"measurement_id", "position", "half_frames", "heard", "offset_ms"}, readings); err != nil {
					return err
				}
				return copyRows("measurement_settings", []string{"measurement_id", "position", "control", "value"}, settings)
			})
		})
}

package db

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"delaybook/domain"
	"delaybook/domain/recording"
	"delaybook/domain/service"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
)

var _ service.ClipStore = (*Store)(nil)

// clipColumns are those of table clips, in the order of clipRow and clipValues.
const clipColumns = `id, rig_id, client_id, fingerprint, by_key, host, created_at, keep_until, kept, ask, files, row_version, state,
	attempt, options, queued_at, started_at, ended_at, beat_at, progress, estimate_s, failure, result, evidence, decision, measurements`

type clipRow struct {
	ID           pgtype.UUID                       `db:"id"`
	Rig          pgtype.UUID                       `db:"rig_id"`
	ClientID     pgtype.UUID                       `db:"client_id"`
	Fingerprint  []byte                            `db:"fingerprint"`
	By           pgtype.UUID                       `db:"by_key"`
	Host         pgtype.UUID                       `db:"host"`
	CreatedAt    time.Time                         `db:"created_at"`
	KeepUntil    time.Time                         `db:"keep_until"`
	Kept         bool                              `db:"kept"`
	Ask          document[service.ClipAsk]         `db:"ask"`
	Files        document[[]service.ClipFile]      `db:"files"`
	Row          domain.Version                    `db:"row_version"`
	State        service.ClipState                 `db:"state"`
	Attempt      int                               `db:"attempt"`
	Options      document[service.AnalysisOptions] `db:"options"`
	QueuedAt     *time.Time                        `db:"queued_at"`
	StartedAt    *time.Time                        `db:"started_at"`
	EndedAt      *time.Time                        `db:"ended_at"`
	BeatAt       *time.Time                        `db:"beat_at"`
	Progress     float64                           `db:"progress"`
	EstimateS    *float64                          `db:"estimate_s"`
	Failure      string                            `db:"failure"`
	Result       document[*recording.Result]       `db:"result"`
	Evidence     document[*recording.Evidence]     `db:"evidence"`
	Decision     document[*service.ClipDecision]   `db:"decision"`
	Measurements pgtype.FlatArray[pgtype.UUID]     `db:"measurements"`
}

// A document is a value that a row holds as JSON; SQL null is its zero value.
type document[T any] struct{ value T }

// Scan implements sql.Scanner.
func (d *document[T]) Scan(src any) error {
	switch text := src.(type) {
	case nil:
		*d = document[T]{}
		return nil
	case string:
		return json.Unmarshal([]byte(text), &d.value)
	case []byte:
		return json.Unmarshal(text, &d.value)
	}
	return fmt.Errorf("a %T is no JSON", src)
}

func clipValues(c *service.Clip) (pgx.StrictNamedArgs, error) {
	ids := make([]pgtype.UUID, 0, len(c.Measurements))
	for _, id := range c.Measurements {
		ids = append(ids, toUUID(id.UUID))
	}
	args := pgx.StrictNamedArgs{
		"id": toUUID(c.ID.UUID), "rig_id": toUUID(c.Rig.UUID), "client_id": toUUID(c.ClientID), "fingerprint": c.Fingerprint[:],
		"by_key": toUUIDOrNull(c.By.UUID), "host": toUUID(c.Host), "created_at": c.CreatedAt, "keep_until": c.KeepUntil, "kept": c.Kept,
		"row_version": c.Row, "state": string(c.State), "attempt": c.Attempt, "queued_at": c.QueuedAt, "started_at": c.StartedAt,
		"ended_at": c.EndedAt, "beat_at": c.BeatAt, "progress": c.Progress, "estimate_s": c.EstimateS, "failure": c.Failure, "measurements": ids,
	}
	for name, value := range map[string]any{
		"ask": c.Ask, "files": c.Files, "options": c.Options, "result": c.Result, "evidence": c.Evidence, "decision": c.Decision,
	} {
		text, err := json.Marshal(value)
		if err != nil {
			return nil, fmt.Errorf("write the %s of clip %s: %w", name, c.ID, err)
		}
		if args[name] = string(text); string(text) == "null" {
			args[name] = nil
		}
	}
	return args, nil
}

func (r *clipRow) toService() (*service.Clip, error) {
	c := &service.Clip{
		ID: domain.ClipID{UUID: r.ID.Bytes}, Rig: domain.RigID{UUID: r.Rig.Bytes}, ClientID: r.ClientID.Bytes, By: domain.KeyID{UUID: r.By.Bytes},
		Host: r.Host.Bytes, CreatedAt: r.CreatedAt.UTC(), KeepUntil: r.KeepUntil.UTC(), Kept: r.Kept, Ask: r.Ask.value, Files: r.Files.value, Row: r.Row,
		State: r.State, Attempt: r.Attempt, Options: r.Options.value, QueuedAt: utc(r.QueuedAt), StartedAt: utc(r.StartedAt),
		EndedAt: utc(r.EndedAt), BeatAt: utc(r.BeatAt), Progress: r.Progress, EstimateS: r.EstimateS, Failure: r.Failure,
		Result: r.Result.value, Evidence: r.Evidence.value, Decision: r.Decision.value,
	}
	if c.Result != nil && len(c.Result.Segments) > 0 {
		c.Result.Finding = &c.Result.Segments[0] // JSON shows it twice, and its flags only here
	}
	for _, id := range r.Measurements {
		c.Measurements = append(c.Measurements, domain.MeasurementID{UUID: id.Bytes})
	}
	var err error
	c.Fingerprint, err = hash(r.Fingerprint)
	return c, err
}

func utc(t *time.Time) *time.Time {
	if t == nil {
		return nil
	}
	at := t.UTC()
	return &at
}

// A querier is a connection, a pool or a transaction.
type querier interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
}

// clips reads the clips that the rest of a query finds.
func clips(ctx context.Context, q querier, columns, rest string, args ...any) ([]*service.Clip, error) {
	rows, err := q.Query(ctx, `SELECT `+columns+` FROM clips `+rest, args...)
	if err != nil {
		return nil, fmt.Errorf("read clips: %w", err)
	}
	found, err := pgx.CollectRows(rows, pgx.RowToStructByName[clipRow])
	if err != nil {
		return nil, fmt.Errorf("read clips: %w", err)
	}
	out := make([]*service.Clip, 0, len(found))
	for i := range found {
		c, err := found[i].toService()
		if err != nil {
			return nil, fmt.Errorf("read clip %v: %w", found[i].ID, err)
		}
		out = append(out, c)
	}
	return out, nil
}

func first(list []*service.Clip, err error) (*service.Clip, error) {
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return list[0], nil
}

// Clip implements service.ClipStore.
func (s *Store) Clip(ctx context.Context, id domain.ClipID) (*service.Clip, error) {
	return first(clips(ctx, s.pool, clipColumns, `WHERE id = $1`, toUUID(id.UUID)))
}

// ClipByClientID implements service.ClipStore.
func (s *Store) ClipByClientID(ctx context.Context, id uuid.UUID) (*service.Clip, error) {
	return first(clips(ctx, s.pool, clipColumns, `WHERE client_id = $1`, toUUID(id)))
}

// ClipsOf implements service.ClipStore.
func (s *Store) ClipsOf(ctx context.Context, rig domain.RigID) ([]*service.Clip, error) {
	const columns = `id, rig_id, client_id, fingerprint, by_key, host, created_at, keep_until, kept, ask, files, row_version, state, attempt,
		options, queued_at, started_at, ended_at, beat_at, progress, estimate_s, failure, decision, measurements, NULL::jsonb AS evidence,
		CASE WHEN result #> '{segments,0}' IS NULL THEN result
		     ELSE jsonb_set(result, '{segments}', jsonb_build_array(result #> '{segments,0}')) END AS result`

	return clips(ctx, s.pool, columns, `WHERE rig_id = $1 AND state <> 'deleted' ORDER BY created_at DESC, id DESC`, toUUID(rig.UUID))
}

// Beat implements service.ClipStore.
func (s *Store) Beat(
	ctx context.Context, id domain.ClipID, attempt int, at time.Time, progress float64, estimateS *float64,
) (bool, error) {
	const sql = `
		UPDATE clips
		SET    beat_at = @at, progress = @progress, estimate_s = coalesce(@estimate, estimate_s)
		WHERE  id = @id AND attempt = @attempt AND state = 'analysing'`

	tag, err := s.pool.Exec(ctx, sql, pgx.StrictNamedArgs{
		"id": toUUID(id.UUID), "attempt": attempt, "at": at, "progress": progress, "estimate": estimateS,
	})
	if err != nil {
		return false, fmt.Errorf("note the progress of clip %s: %w", id, err)
	}
	return tag.RowsAffected() == 1, nil
}

// Stalled implements service.ClipStore. A process that is killed between taking
// a job and saying so in the clip leaves a clip that waits for a job which the
// queue takes for running; that goes by the clock of the database.
func (s *Store) Stalled(ctx context.Context, at time.Time) ([]domain.ClipID, error) {
	const sql = `
		SELECT id FROM clips
		WHERE  state = 'analysing' AND beat_at < $1
		OR     state = 'queued' AND EXISTS (
		           SELECT FROM jobs.river_job
		           WHERE  kind = 'clip' AND args @> jsonb_build_object('clip', clips.id, 'attempt', clips.attempt)
		           AND    state = 'running' AND attempted_at < now() - make_interval(secs => $2))
		ORDER BY id`

	return s.clipIDs(ctx, sql, at, takenFor.Seconds())
}

// Expired implements service.ClipStore.
func (s *Store) Expired(ctx context.Context, host uuid.UUID, at time.Time) ([]domain.ClipID, error) {
	return s.clipIDs(ctx, `SELECT id FROM clips WHERE kept AND keep_until <= $1 AND host = $2 ORDER BY id`, at, toUUID(host))
}

func (s *Store) clipIDs(ctx context.Context, sql string, args ...any) ([]domain.ClipID, error) {
	rows, err := s.pool.Query(ctx, sql, args...)
	if err != nil {
		return nil, fmt.Errorf("find clips: %w", err)
	}
	ids, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.ClipID, error) {
		id, err := pgx.RowTo[pgtype.UUID](row)
		return domain.ClipID{UUID: id.Bytes}, err
	})
	if err != nil {
		return nil, fmt.Errorf("find clips: %w", err)
	}
	return ids, nil
}

// errNoClip says that there is no clip to change.
var errNoClip = errors.New("there is no such clip")

// changeClip changes a clip within a transaction. It returns how often the clip
// was to be analysed before.
func changeClip(ctx context.Context, q querier, id domain.ClipID, fn func(*service.Clip) error) (c *service.Clip, attempt int, err error) {
	c, err = first(clips(ctx, q, clipColumns, `WHERE id = $1 FOR UPDATE`, toUUID(id.UUID)))
	if err != nil {
		return nil, 0, err
	}
	if c == nil {
		return nil, 0, errNoClip
	}
	attempt = c.Attempt
	if err := fn(c); err != nil {
		return nil, 0, err
	}
	c.Row++
	args, err := clipValues(c)
	if err != nil {
		return nil, 0, err
	}
	rows, err := q.Query(ctx, updateClip, args)
	if err != nil {
		return nil, 0, fmt.Errorf("change clip %s: %w", id, err)
	}
	rows.Close()
	if err := rows.Err(); err != nil {
		return nil, 0, fmt.Errorf("change clip %s: %w", id, interpret(err))
	}
	return c, attempt, nil
}

const updateClip = `
	UPDATE clips
	SET    (` + clipColumns + `) = (` + clipPlaces + `)
	WHERE  id = @id`

const clipPlaces = `@id, @rig_id, @client_id, @fingerprint, @by_key, @host, @created_at, @keep_until, @kept, @ask, @files, @row_version, @state,
	@attempt, @options, @queued_at, @started_at, @ended_at, @beat_at, @progress, @estimate_s, @failure, @result, @evidence, @decision, @measurements`

// ChangeClip implements service.Tx.
func (t *tx) ChangeClip(ctx context.Context, id domain.ClipID, fn func(*service.Clip) error) (*service.Clip, error) {
	if err := t.flush(ctx); err != nil {
		return nil, err
	}
	c, _, err := changeClip(ctx, t.conn, id, fn)
	if errors.Is(err, errNoClip) {
		return nil, nil
	}
	return c, err
}

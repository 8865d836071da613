package db

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"delaybook/domain"

	"github.com/jackc/pgerrcode"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// Restore implements service.Tx.
//
// What the book holds besides keys keeps their versions from being deleted, so
// that nothing else is ever lost.
//
// Facts hold a device and a rig as their last edit left them, though facts of
// older versions refer to them. Each gets a first edit with the same content,
// so that the book as of an older version finds them.
func (t *tx) Restore(ctx context.Context, facts *domain.Facts) error {
	if t.added {
		return errors.New("facts were added to the transaction already")
	}
	if err := checkWholeBook(facts); err != nil {
		return err
	}
	if err := t.clearKeys(ctx, facts.Last()); err != nil {
		return err
	}
	t.added, t.restored = true, true
	t.epoch, t.version = t.epoch+1, facts.Last()-1
	var rows [][]any
	for _, c := range facts.Changes {
		rows = append(rows, []any{c.Version, c.At, toUUIDOrNull(c.By.UUID)})
	}
	if err := t.put(ctx, versions, rows); err != nil {
		return err
	}
	for _, add := range []func(context.Context, *domain.Facts) error{
		t.addCrews, t.restoreKeys,
		t.restoreDevices, t.addStated, t.addCardSources, t.addLimits,
		t.restoreRigs, t.addLayouts,
		t.addPowerUps, t.addMeasurements, t.addSettings, t.addStrikes, t.addVariances,
	} {
		if err := add(ctx, facts); err != nil {
			return err
		}
	}
	return nil
}

// clearKeys deletes all of a book that holds only keys, and lets what was
// recorded of their making wait to be recorded with version last.
func (t *tx) clearKeys(ctx context.Context, last domain.Version) error {
	if err := t.flush(ctx); err != nil {
		return err
	}
	rows, err := t.conn.Query(ctx, `DELETE FROM idempotency_keys RETURNING scope, key, fingerprint, version, subject`)
	if err != nil {
		return t.failed(err)
	}
	records, err := pgx.CollectRows(rows, pgx.RowToStructByName[recordRow])
	if err != nil {
		return t.failed(err)
	}
	for _, row := range records {
		r, err := row.toService()
		if err != nil {
			return err
		}
		r.Version = last
		t.records = append(t.records, *r)
	}
	t.batch.Queue(`DELETE FROM keys`)
	t.batch.Queue(`DELETE FROM versions`)
	return t.flush(ctx)
}

// interpretRestore turns what the database refuses of an export, because of a
// constraint or because it cannot be kept as it is, into Malformed. It leaves
// every other error as it is.
func interpretRestore(err error) error {
	pgErr, ok := errors.AsType[*pgconn.PgError](err)
	if !ok || !pgerrcode.IsIntegrityConstraintViolation(pgErr.Code) && !pgerrcode.IsDataException(pgErr.Code) {
		return err
	}
	what := "A fact of it"
	if pgErr.TableName != "" {
		what = "One of its " + strings.ReplaceAll(pgErr.TableName, "_", " ")
	}
	return &domain.Error{Code: domain.Malformed, Message: "The export was changed or is not whole. " + what +
		" refers to what is missing, is there twice or has a value that can not be. Send all that an export wrote.", Err: err}
}

// checkWholeBook refuses facts that are not all of a book, from version 1 on.
func checkWholeBook(facts *domain.Facts) error {
	for i, c := range facts.Changes {
		if c.Version != domain.Version(i+1) {
			return notWhole("version %d is missing, and version %d is there", i+1, c.Version)
		}
	}
	last := facts.Last()
	if last == 0 {
		return notWhole("it holds no version")
	}
	for v := range factVersions(facts) {
		if v < 1 || v > last {
			return notWhole("a fact has version %d, and the versions end with %d", v, last)
		}
	}
	return nil
}

func notWhole(why string, values ...any) error {
	return domain.Errorf(domain.Malformed, "The export is not whole: %s. Send all that an export wrote.", fmt.Sprintf(why, values...))
}

func (t *tx) restoreKeys(ctx context.Context, facts *domain.Facts) error {
	const revoke = `UPDATE keys SET revoked_version = $2 WHERE id = $1`

	var rows [][]any
	for _, k := range facts.Keys {
		rows = append(rows, keyValues(&k))
	}
	if err := t.put(ctx, keys, rows); err != nil {
		return err
	}
	for _, k := range facts.Keys {
		if k.Revoked != 0 {
			t.batch.Queue(revoke, toUUID(k.ID.UUID), k.Revoked)
		}
	}
	return t.err
}

func (t *tx) restoreDevices(ctx context.Context, facts *domain.Facts) error {
	var known, edits [][]any
	first := make([]domain.Device, 0, len(facts.Devices))
	for _, d := range facts.Devices {
		if d.Version == 1 {
			continue
		}
		d.Version = 1
		first = append(first, d)
		id := toUUID(d.ID.UUID)
		known = append(known, []any{id, d.Version})
		edits = append(edits, []any{id, d.Version, d.Slug, d.Name, d.Kind, d.Notes, false})
	}
	if err := t.put(ctx, devices, known); err != nil {
		return err
	}
	if err := t.put(ctx, deviceEdits, edits); err != nil {
		return err
	}
	if err := t.addParts(ctx, first); err != nil {
		return err
	}
	return t.addDevices(ctx, facts)
}

func (t *tx) restoreRigs(ctx context.Context, facts *domain.Facts) error {
	var known, edits [][]any
	for _, r := range facts.Rigs {
		if len(r.Revisions) == 0 || r.Revisions[0].Version >= r.Version {
			continue
		}
		r.Version, r.Deleted = r.Revisions[0].Version, false
		edit, err := rigEditValues(&r)
		if err != nil {
			return notWhole("rig %s: %v", r.ID, err)
		}
		known = append(known, []any{toUUID(r.ID.UUID), toUUID(r.Crew.UUID), r.Version})
		edits = append(edits, edit)
	}
	if err := t.put(ctx, rigs, known); err != nil {
		return err
	}
	if err := t.put(ctx, rigEdits, edits); err != nil {
		return err
	}
	return t.addRigs(ctx, facts)
}

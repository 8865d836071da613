package db

import (
	"context"
	"errors"
	"fmt"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
)

var idempotencyKeys = newTable("idempotency_keys", "scope", "key", "fingerprint", "version", "subject")

type recordRow struct {
	Scope       pgtype.UUID    `db:"scope"`
	Key         string         `db:"key"`
	Fingerprint []byte         `db:"fingerprint"`
	Version     domain.Version `db:"version"`
	Subject     string         `db:"subject"`
}

// Record implements service.Tx.
func (t *tx) Record(ctx context.Context, scope domain.CrewID, key string) (*service.Record, error) {
	const sql = `
		SELECT scope, key, fingerprint, version, subject
		FROM   idempotency_keys
		WHERE  scope = @scope AND key = @key`

	t.queueRecords()
	if err := t.flush(ctx); err != nil {
		return nil, err
	}
	rows, err := t.conn.Query(ctx, sql, pgx.StrictNamedArgs{"scope": toUUID(scope.UUID), "key": key})
	if err != nil {
		return nil, t.failed(err)
	}
	row, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[recordRow])
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, t.failed(err)
	}
	return row.toService()
}

func (row recordRow) toService() (r *service.Record, err error) {
	r = &service.Record{
		Scope: domain.CrewID{UUID: row.Scope.Bytes}, Key: row.Key, Version: row.Version, Subject: row.Subject,
	}
	if r.Fingerprint, err = hash(row.Fingerprint); err != nil {
		return nil, fmt.Errorf("idempotency key %q: %w", row.Key, err)
	}
	return r, nil
}

// AddRecord implements service.Tx.
func (t *tx) AddRecord(_ context.Context, r service.Record) error {
	t.records = append(t.records, r)
	return t.err
}

// queueRecords moves the records behind the facts, whose version they refer to.
func (t *tx) queueRecords() {
	for _, r := range t.records {
		t.queue(idempotencyKeys, []any{toUUID(r.Scope.UUID), r.Key, r.Fingerprint[:], r.Version, r.Subject})
	}
	t.records = nil
}

package db

import (
	"errors"

	"delaybook/domain"

	"github.com/jackc/pgerrcode"
	"github.com/jackc/pgx/v5/pgconn"
)

// clashes says to a person what the breach of a unique constraint means. It
// lists those that two writers can run into who were each right on their own,
// or one who repeats: the use case looked at a book that was not the newest.
// The breach of any other constraint is a fault of ours.
var clashes = map[string]string{
	"device_slugs_pkey":          "Another device in use has this slug: choose another one.",
	"rig_slugs_pkey":             "Another rig of the crew has this slug: choose another one.",
	"crews_slug_key":             "Another crew has this slug: choose another one.",
	"keys_prefix_key":            "Another key has this prefix: make a new key.",
	"limits_slug_key":            "Another limit of the company has this slug: choose another one.",
	"measurements_client_id_key": "A measurement with this client id was stored already: read it, or send a new client id.",
	"clips_client_id_key":        "A recording with this client id was stored already: read it, or send a new client id.",
	"power_ups_rig_id_label_key": "The rig has a power-up with this label already: use that one, or choose another label.",
	"idempotency_keys_pkey":      "This idempotency key was used already: send a new one with a new request.",
}

// interpret turns the breach of a constraint in clashes into a Conflict. It
// leaves every other error as it is.
func interpret(err error) error {
	pgErr, ok := errors.AsType[*pgconn.PgError](err)
	if !ok || pgErr.Code != pgerrcode.UniqueViolation {
		return err
	}
	message, ok := clashes[pgErr.ConstraintName]
	if !ok {
		return err
	}
	return &domain.Error{Code: domain.Conflict, Message: message, Err: err}
}

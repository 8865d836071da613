-- The book: its version, who made each, crews and keys.
--
-- Facts are never changed in place. Every row of a fact carries the book
-- version that made it, so that the book can be read as of any version; what
-- ends a fact (a revocation, a retirement, a strike) carries its own.

CREATE TABLE book (
    sole    boolean PRIMARY KEY DEFAULT true CONSTRAINT book_sole_check CHECK (sole),
    version bigint  NOT NULL CONSTRAINT book_version_check CHECK (version >= 0)
);
COMMENT ON TABLE book IS 'One row. Its lock is the lock of every write.';
INSERT INTO book (version) VALUES (0);

CREATE TABLE versions (
    version bigint      PRIMARY KEY CONSTRAINT versions_version_check CHECK (version > 0),
    at      timestamptz NOT NULL,
    by_key  uuid
);
COMMENT ON COLUMN versions.by_key IS 'The key that wrote; null for a program beside the service.';

CREATE TABLE crews (
    id      uuid   PRIMARY KEY,
    slug    text   NOT NULL CONSTRAINT crews_slug_key UNIQUE,
    name    text   NOT NULL,
    version bigint NOT NULL CONSTRAINT crews_version_fkey REFERENCES versions
);
CREATE INDEX crews_version_idx ON crews (version);

CREATE TABLE keys (
    id              uuid        PRIMARY KEY,
    prefix          text        NOT NULL CONSTRAINT keys_prefix_key UNIQUE,
    hash            bytea       NOT NULL CONSTRAINT keys_hash_check CHECK (octet_length(hash) = 32),
    role            text        NOT NULL CONSTRAINT keys_role_check CHECK (role IN ('reader', 'tech', 'editor', 'admin')),
    crew_id         uuid        CONSTRAINT keys_crew_id_fkey REFERENCES crews,
    label           text        NOT NULL,
    created_at      timestamptz NOT NULL,
    version         bigint      NOT NULL CONSTRAINT keys_version_fkey REFERENCES versions,
    revoked_version bigint      CONSTRAINT keys_revoked_version_fkey REFERENCES versions
);
CREATE INDEX keys_version_idx ON keys (version);
CREATE INDEX keys_revoked_version_idx ON keys (revoked_version) WHERE revoked_version IS NOT NULL;

CREATE TABLE idempotency_keys (
    scope       uuid   NOT NULL,
    key         text   NOT NULL,
    fingerprint bytea  NOT NULL CONSTRAINT idempotency_keys_fingerprint_check CHECK (octet_length(fingerprint) = 32),
    version     bigint NOT NULL CONSTRAINT idempotency_keys_version_fkey REFERENCES versions,
    subject     text   NOT NULL,
    CONSTRAINT idempotency_keys_pkey PRIMARY KEY (scope, key)
);
COMMENT ON COLUMN idempotency_keys.scope IS 'The crew, all zeros for the company.';

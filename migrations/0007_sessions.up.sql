-- Sessions of browsers and the links that open them are keys with an end: what
-- is written can be traced to one, and each can be revoked.
--
-- from_key names no constraint: in an import the key may come later than what
-- was opened with it.

ALTER TABLE keys
    ADD COLUMN purpose    text NOT NULL DEFAULT 'key'
        CONSTRAINT keys_purpose_check CHECK (purpose IN ('key', 'session', 'link')),
    ADD COLUMN expires_at timestamptz,
    ADD COLUMN from_key   uuid,
    ADD COLUMN once       boolean NOT NULL DEFAULT false,
    ADD CONSTRAINT keys_expiry_check CHECK ((purpose = 'key') = (expires_at IS NULL));
ALTER TABLE keys ALTER COLUMN purpose DROP DEFAULT, ALTER COLUMN once DROP DEFAULT;
COMMENT ON COLUMN keys.from_key IS 'A session: the key or link that opened it. A link: the key of its maker.';

-- What sessions wrote refers to them, so that they stay, as keys that are revoked.
UPDATE keys SET revoked_version = coalesce(revoked_version, (SELECT version FROM book)) WHERE purpose <> 'key';
ALTER TABLE keys DROP COLUMN once, DROP COLUMN from_key, DROP COLUMN expires_at, DROP COLUMN purpose;

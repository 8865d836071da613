-- An import may take the place of a book that holds only keys. Versions begin
-- anew then, so that a program which has the book in memory must be able to tell
-- that its versions are those of the book before.

ALTER TABLE book
    ADD COLUMN epoch bigint NOT NULL DEFAULT 0 CONSTRAINT book_epoch_check CHECK (epoch >= 0);
COMMENT ON COLUMN book.epoch IS 'How often an import took the place of the book; versions of two epochs have nothing to do with each other.';

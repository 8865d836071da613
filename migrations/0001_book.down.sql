DROP TABLE idempotency_keys, keys, crews, versions, book;

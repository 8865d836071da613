ALTER TABLE measurements DROP COLUMN event_sd_ms, DROP COLUMN drift_ppm, DROP COLUMN clip_id;
DROP TABLE clips;
DROP SCHEMA jobs CASCADE;

-- Recordings that people send in, and what became of them. Unlike the book a
-- clip is working state: its row is updated in place while its recording is
-- analysed, and carries a version of its own (row_version). What is accepted of
-- it becomes measurements, which are facts like all others and name their clip.
--
-- What a row must carry to be judged without its recording, which is deleted
-- after some days, is the result and the evidence.

CREATE SCHEMA jobs; -- the tables of the job queue; its own migrations fill it

CREATE TABLE clips (
    id           uuid             PRIMARY KEY,
    rig_id       uuid             NOT NULL CONSTRAINT clips_rig_id_fkey REFERENCES rigs,
    client_id    uuid             NOT NULL CONSTRAINT clips_client_id_key UNIQUE,
    fingerprint  bytea            NOT NULL CONSTRAINT clips_fingerprint_check CHECK (octet_length(fingerprint) = 32),
    by_key       uuid,
    host         uuid             NOT NULL,
    created_at   timestamptz      NOT NULL,
    keep_until   timestamptz      NOT NULL,
    kept         boolean          NOT NULL,
    ask          jsonb            NOT NULL,
    files        jsonb            NOT NULL,
    row_version  bigint           NOT NULL CONSTRAINT clips_row_version_check CHECK (row_version > 0),
    state        text             NOT NULL CONSTRAINT clips_state_check CHECK (state IN
                     ('uploaded', 'queued', 'analysing', 'done', 'refused', 'failed', 'cancelled', 'accepted', 'rejected', 'deleted')),
    attempt      integer          NOT NULL CONSTRAINT clips_attempt_check CHECK (attempt >= 0),
    options      jsonb            NOT NULL,
    queued_at    timestamptz,
    started_at   timestamptz,
    ended_at     timestamptz,
    beat_at      timestamptz,
    progress     double precision NOT NULL CONSTRAINT clips_progress_check CHECK (progress BETWEEN 0 AND 1),
    estimate_s   double precision CONSTRAINT clips_estimate_s_check CHECK (estimate_s >= 0 AND estimate_s < 'Infinity'),
    failure      text             NOT NULL,
    result       jsonb,
    evidence     jsonb,
    decision     jsonb,
    measurements uuid[]           NOT NULL
);
COMMENT ON COLUMN clips.host IS 'The folder of recordings that holds its files; its jobs run there.';
COMMENT ON COLUMN clips.ask IS 'What was said of it when it was sent.';
COMMENT ON COLUMN clips.kept IS 'Whether its files are still there.';
COMMENT ON COLUMN clips.attempt IS 'Of the analysis; a job of an earlier one has nothing to do.';
COMMENT ON COLUMN clips.beat_at IS 'When who analyses it was last heard of.';
CREATE INDEX clips_rig_id_created_at_idx ON clips (rig_id, created_at DESC, id DESC);
CREATE INDEX clips_kept_idx ON clips (keep_until) WHERE kept;
CREATE INDEX clips_running_idx ON clips (beat_at) WHERE state = 'analysing';

-- What only the analysis of a recording tells of a measurement.
ALTER TABLE measurements
    ADD COLUMN event_sd_ms double precision CONSTRAINT measurements_event_sd_ms_check CHECK (event_sd_ms >= 0 AND event_sd_ms < 'Infinity'),
    ADD COLUMN drift_ppm   double precision CONSTRAINT measurements_drift_ppm_check CHECK (abs(drift_ppm) < 'Infinity'),
    ADD COLUMN clip_id     uuid;
COMMENT ON COLUMN measurements.clip_id IS 'The clip that it was taken from; no reference, because an import brings measurements without their clips.';

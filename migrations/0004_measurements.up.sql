-- Measurements with their readings and the settings dialled in, power-ups, the
-- settings in force, and strikes. Instants are UTC; the offset of the person's
-- clock from UTC stands beside them.

CREATE TABLE power_ups (
    id      uuid   PRIMARY KEY,
    rig_id  uuid   NOT NULL CONSTRAINT power_ups_rig_id_fkey REFERENCES rigs,
    label   text   NOT NULL,
    version bigint NOT NULL CONSTRAINT power_ups_version_fkey REFERENCES versions
);
CREATE INDEX power_ups_version_idx ON power_ups (version);
CREATE UNIQUE INDEX power_ups_rig_id_label_key ON power_ups (rig_id, label) WHERE label <> '';

CREATE TABLE measurements (
    id               uuid             PRIMARY KEY,
    client_id        uuid             NOT NULL CONSTRAINT measurements_client_id_key UNIQUE,
    fingerprint      bytea            NOT NULL CONSTRAINT measurements_fingerprint_check CHECK (octet_length(fingerprint) = 32),
    rig_id           uuid             NOT NULL,
    revision         integer          NOT NULL,
    first_chain      text             NOT NULL,
    first_signal     text             NOT NULL CONSTRAINT measurements_first_signal_check CHECK (first_signal IN ('picture', 'sound')),
    second_chain     text             NOT NULL,
    second_signal    text             NOT NULL CONSTRAINT measurements_second_signal_check CHECK (second_signal IN ('picture', 'sound')),
    read_at          text             NOT NULL,
    method           text             NOT NULL CONSTRAINT measurements_method_check CHECK (method IN ('eye', 'clip', 'tracks', 'clap')),
    eye              text             NOT NULL CONSTRAINT measurements_eye_check CHECK (eye IN ('', 'one-side', 'both-sides', 'unknown')),
    rate_num         bigint           NOT NULL CONSTRAINT measurements_rate_num_check CHECK (rate_num > 0),
    rate_den         bigint           NOT NULL CONSTRAINT measurements_rate_den_check CHECK (rate_den > 0),
    card_source      text             NOT NULL,
    power_up_id      uuid             NOT NULL CONSTRAINT measurements_power_up_id_fkey REFERENCES power_ups,
    distance_m       double precision CONSTRAINT measurements_distance_m_check CHECK (abs(distance_m) < 'Infinity'),
    air_c            double precision CONSTRAINT measurements_air_c_check CHECK (abs(air_c) < 'Infinity'),
    taken_at         timestamptz      NOT NULL,
    taken_utc_offset integer          NOT NULL CONSTRAINT measurements_taken_utc_offset_check CHECK (abs(taken_utc_offset) <= 64800),
    note             text             NOT NULL,
    by_key           uuid,
    version          bigint           NOT NULL CONSTRAINT measurements_version_fkey REFERENCES versions,
    CONSTRAINT measurements_revision_fkey FOREIGN KEY (rig_id, revision) REFERENCES revisions
);
COMMENT ON COLUMN measurements.taken_utc_offset IS 'Seconds east of UTC of the clock of the person who wrote it.';
CREATE INDEX measurements_version_idx ON measurements (version);

CREATE TABLE readings (
    measurement_id uuid             NOT NULL CONSTRAINT readings_measurement_id_fkey REFERENCES measurements,
    position       integer          NOT NULL,
    half_frames    integer          CONSTRAINT readings_half_frames_check CHECK (half_frames >= 0),
    heard          text             NOT NULL CONSTRAINT readings_heard_check CHECK (heard IN ('', 'early', 'in-sync', 'late')),
    offset_ms      double precision NOT NULL CONSTRAINT readings_offset_ms_check CHECK (abs(offset_ms) < 'Infinity'),
    u_ms           double precision CONSTRAINT readings_u_ms_check CHECK (u_ms > 0 AND u_ms < 'Infinity'),
    at_s           double precision CONSTRAINT readings_at_s_check CHECK (at_s >= 0 AND at_s < 'Infinity'),
    CONSTRAINT readings_pkey PRIMARY KEY (measurement_id, position),
    CONSTRAINT readings_said_check CHECK ((half_frames IS NULL) = (heard = ''))
);

CREATE TABLE measurement_settings (
    measurement_id uuid    NOT NULL CONSTRAINT measurement_settings_measurement_id_fkey REFERENCES measurements,
    position       integer NOT NULL,
    control        text    NOT NULL,
    value          numeric NOT NULL,
    CONSTRAINT measurement_settings_pkey PRIMARY KEY (measurement_id, position)
);

CREATE TABLE settings_in_force (
    id           uuid        PRIMARY KEY,
    rig_id       uuid        NOT NULL,
    revision     integer     NOT NULL,
    at           timestamptz NOT NULL,
    utc_offset   integer     NOT NULL CONSTRAINT settings_in_force_utc_offset_check CHECK (abs(utc_offset) <= 64800),
    plan_version bigint      CONSTRAINT settings_in_force_plan_version_fkey REFERENCES versions,
    by_key       uuid,
    version      bigint      NOT NULL CONSTRAINT settings_in_force_version_fkey REFERENCES versions,
    CONSTRAINT settings_in_force_revision_fkey FOREIGN KEY (rig_id, revision) REFERENCES revisions
);
CREATE INDEX settings_in_force_version_idx ON settings_in_force (version);

CREATE TABLE settings_in_force_values (
    settings_id uuid    NOT NULL CONSTRAINT settings_in_force_values_settings_id_fkey REFERENCES settings_in_force,
    position    integer NOT NULL,
    control     text    NOT NULL,
    value       numeric NOT NULL,
    CONSTRAINT settings_in_force_values_pkey PRIMARY KEY (settings_id, position)
);

CREATE TABLE strikes (
    version        bigint      NOT NULL CONSTRAINT strikes_version_fkey REFERENCES versions,
    measurement_id uuid        CONSTRAINT strikes_measurement_id_fkey REFERENCES measurements,
    stated_id      uuid        CONSTRAINT strikes_stated_id_fkey REFERENCES stated_values,
    restores       boolean     NOT NULL,
    reason         text        NOT NULL,
    at             timestamptz NOT NULL,
    by_key         uuid,
    CONSTRAINT strikes_subject_check CHECK ((measurement_id IS NULL) <> (stated_id IS NULL))
);
CREATE INDEX strikes_version_idx ON strikes (version);

-- The catalogue: devices with their modes, controls and units, what is stated
-- of them, card sources and the company's own limits. Rates are two integers,
-- values of controls exact decimals, measured durations ms in double precision.

CREATE TABLE devices (
    id      uuid   PRIMARY KEY,
    version bigint NOT NULL CONSTRAINT devices_version_fkey REFERENCES versions
);

-- What may be edited of a device is written anew with each edit.
CREATE TABLE device_edits (
    device_id uuid    NOT NULL CONSTRAINT device_edits_device_id_fkey REFERENCES devices,
    version   bigint  NOT NULL CONSTRAINT device_edits_version_fkey REFERENCES versions,
    slug      text    NOT NULL,
    name      text    NOT NULL,
    kind      text    NOT NULL,
    notes     text    NOT NULL,
    retired   boolean NOT NULL,
    CONSTRAINT device_edits_pkey PRIMARY KEY (device_id, version)
);
CREATE INDEX device_edits_version_idx ON device_edits (version);

-- Names in use now. History lets a slug come back after a retirement, so
-- uniqueness needs a table of its own.
CREATE TABLE device_slugs (
    slug      text PRIMARY KEY,
    device_id uuid NOT NULL CONSTRAINT device_slugs_device_id_key UNIQUE CONSTRAINT device_slugs_device_id_fkey REFERENCES devices
);

CREATE TABLE modes (
    id              uuid    PRIMARY KEY,
    device_id       uuid    NOT NULL CONSTRAINT modes_device_id_fkey REFERENCES devices,
    position        integer NOT NULL,
    slug            text    NOT NULL,
    format          text    NOT NULL,
    scan            text    NOT NULL CONSTRAINT modes_scan_check CHECK (scan IN ('', 'progressive', 'interlaced', 'psf')),
    rate_num        bigint,
    rate_den        bigint,
    firmware        text    NOT NULL,
    processing      text    NOT NULL,
    port            text    NOT NULL,
    shutter         text    NOT NULL,
    direct          text[]  NOT NULL CONSTRAINT modes_direct_check CHECK (direct <@ ARRAY['picture', 'sound']),
    varies          boolean NOT NULL,
    version         bigint  NOT NULL CONSTRAINT modes_version_fkey REFERENCES versions,
    retired_version bigint  CONSTRAINT modes_retired_version_fkey REFERENCES versions,
    CONSTRAINT modes_device_id_slug_key UNIQUE (device_id, slug),
    CONSTRAINT modes_rate_check CHECK ((rate_num IS NULL) = (rate_den IS NULL) AND rate_num > 0 AND rate_den > 0)
);

CREATE TABLE controls (
    id              uuid             PRIMARY KEY,
    device_id       uuid             NOT NULL CONSTRAINT controls_device_id_fkey REFERENCES devices,
    position        integer          NOT NULL,
    slug            text             NOT NULL,
    signal          text             NOT NULL CONSTRAINT controls_signal_check CHECK (signal IN ('picture', 'sound')),
    unit            text             NOT NULL CONSTRAINT controls_unit_check CHECK (unit IN ('frame', 'ms', 'sample')),
    rate_num        bigint,
    rate_den        bigint,
    sample_rate     bigint,
    step            numeric          NOT NULL CONSTRAINT controls_step_check CHECK (step > 0),
    minimum         numeric          NOT NULL,
    maximum         numeric          NOT NULL,
    location        text             NOT NULL,
    acts_on         text             NOT NULL,
    engaged_ms      double precision NOT NULL CONSTRAINT controls_engaged_ms_check CHECK (engaged_ms >= 0 AND engaged_ms < 'Infinity'),
    ours            boolean          NOT NULL,
    version         bigint           NOT NULL CONSTRAINT controls_version_fkey REFERENCES versions,
    retired_version bigint           CONSTRAINT controls_retired_version_fkey REFERENCES versions,
    CONSTRAINT controls_device_id_slug_key UNIQUE (device_id, slug),
    CONSTRAINT controls_range_check CHECK (minimum <= maximum),
    CONSTRAINT controls_rate_check CHECK ((rate_num IS NULL) = (rate_den IS NULL) AND rate_num > 0 AND rate_den > 0),
    CONSTRAINT controls_sample_rate_check CHECK ((sample_rate IS NOT NULL) = (unit = 'sample') AND sample_rate > 0)
);

CREATE TABLE units (
    id              uuid    PRIMARY KEY,
    device_id       uuid    NOT NULL CONSTRAINT units_device_id_fkey REFERENCES devices,
    position        integer NOT NULL,
    tag             text    NOT NULL,
    notes           text    NOT NULL,
    version         bigint  NOT NULL CONSTRAINT units_version_fkey REFERENCES versions,
    retired_version bigint  CONSTRAINT units_retired_version_fkey REFERENCES versions,
    CONSTRAINT units_device_id_tag_key UNIQUE (device_id, tag)
);

CREATE TABLE stated_values (
    id            uuid             PRIMARY KEY,
    mode_id       uuid             NOT NULL CONSTRAINT stated_values_mode_id_fkey REFERENCES modes,
    signal        text             NOT NULL CONSTRAINT stated_values_signal_check CHECK (signal IN ('picture', 'sound')),
    minus         text             CONSTRAINT stated_values_minus_check CHECK (minus IN ('picture', 'sound') AND minus <> signal),
    value_ms      double precision NOT NULL CONSTRAINT stated_values_value_ms_check CHECK (abs(value_ms) < 'Infinity'),
    u_ms          double precision CONSTRAINT stated_values_u_ms_check CHECK (u_ms > 0 AND u_ms < 'Infinity'),
    half_width_ms double precision CONSTRAINT stated_values_half_width_ms_check CHECK (half_width_ms > 0 AND half_width_ms < 'Infinity'),
    source        text             NOT NULL,
    by_key        uuid,
    version       bigint           NOT NULL CONSTRAINT stated_values_version_fkey REFERENCES versions,
    CONSTRAINT stated_values_uncertainty_check CHECK ((u_ms IS NULL) <> (half_width_ms IS NULL))
);
CREATE INDEX stated_values_version_idx ON stated_values (version);

CREATE TABLE card_sources (
    id        uuid             PRIMARY KEY,
    slug      text             NOT NULL,
    name      text             NOT NULL,
    stated_ms double precision NOT NULL CONSTRAINT card_sources_stated_ms_check CHECK (abs(stated_ms) < 'Infinity'),
    u_ms      double precision NOT NULL CONSTRAINT card_sources_u_ms_check CHECK (u_ms > 0 AND u_ms < 'Infinity'),
    source    text             NOT NULL,
    version   bigint           NOT NULL CONSTRAINT card_sources_version_fkey REFERENCES versions
);
COMMENT ON TABLE card_sources IS 'What is stated of a card source; the row of the highest version with a slug holds.';
CREATE INDEX card_sources_version_idx ON card_sources (version);

CREATE TABLE limits (
    id       uuid             PRIMARY KEY,
    slug     text             NOT NULL CONSTRAINT limits_slug_key UNIQUE,
    name     text             NOT NULL,
    early_ms double precision NOT NULL CONSTRAINT limits_early_ms_check CHECK (early_ms >= 0 AND early_ms < 'Infinity'),
    late_ms  double precision NOT NULL CONSTRAINT limits_late_ms_check CHECK (late_ms >= 0 AND late_ms < 'Infinity'),
    source   text             NOT NULL,
    version  bigint           NOT NULL CONSTRAINT limits_version_fkey REFERENCES versions
);
CREATE INDEX limits_version_idx ON limits (version);

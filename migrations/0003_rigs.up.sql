-- Rigs. A rename is an edit; a change of the layout is a revision. Revisions
-- never change, so that a measurement keeps the layout it was made with.

CREATE TABLE rigs (
    id      uuid   PRIMARY KEY,
    crew_id uuid   NOT NULL CONSTRAINT rigs_crew_id_fkey REFERENCES crews,
    version bigint NOT NULL CONSTRAINT rigs_version_fkey REFERENCES versions
);

CREATE TABLE rig_edits (
    rig_id     uuid    NOT NULL CONSTRAINT rig_edits_rig_id_fkey REFERENCES rigs,
    version    bigint  NOT NULL CONSTRAINT rig_edits_version_fkey REFERENCES versions,
    slug       text    NOT NULL,
    name       text    NOT NULL,
    visibility text    NOT NULL CONSTRAINT rig_edits_visibility_check CHECK (visibility IN ('crew', 'listed', 'company')),
    visible_to uuid[]  NOT NULL,
    job_date   date,
    notes      text    NOT NULL,
    deleted    boolean NOT NULL,
    CONSTRAINT rig_edits_pkey PRIMARY KEY (rig_id, version)
);
CREATE INDEX rig_edits_version_idx ON rig_edits (version);

CREATE TABLE rig_slugs (
    crew_id uuid NOT NULL CONSTRAINT rig_slugs_crew_id_fkey REFERENCES crews,
    slug    text NOT NULL,
    rig_id  uuid NOT NULL CONSTRAINT rig_slugs_rig_id_key UNIQUE CONSTRAINT rig_slugs_rig_id_fkey REFERENCES rigs,
    CONSTRAINT rig_slugs_pkey PRIMARY KEY (crew_id, slug)
);

CREATE TABLE revisions (
    rig_id   uuid        NOT NULL CONSTRAINT revisions_rig_id_fkey REFERENCES rigs,
    number   integer     NOT NULL CONSTRAINT revisions_number_check CHECK (number >= 1),
    at       timestamptz NOT NULL,
    by_key   uuid,
    version  bigint      NOT NULL CONSTRAINT revisions_version_fkey REFERENCES versions,
    rate_num bigint      NOT NULL CONSTRAINT revisions_rate_num_check CHECK (rate_num > 0),
    rate_den bigint      NOT NULL CONSTRAINT revisions_rate_den_check CHECK (rate_den > 0),
    CONSTRAINT revisions_pkey PRIMARY KEY (rig_id, number)
);
CREATE INDEX revisions_version_idx ON revisions (version);

CREATE TABLE chains (
    rig_id   uuid             NOT NULL,
    revision integer          NOT NULL,
    position integer          NOT NULL,
    slug     text             NOT NULL,
    signal   text             NOT NULL CONSTRAINT chains_signal_check CHECK (signal IN ('picture', 'sound')),
    subject  text             NOT NULL,
    air_m    double precision NOT NULL CONSTRAINT chains_air_m_check CHECK (air_m >= 0 AND air_m < 'Infinity'),
    CONSTRAINT chains_pkey PRIMARY KEY (rig_id, revision, slug),
    CONSTRAINT chains_position_key UNIQUE (rig_id, revision, position),
    CONSTRAINT chains_revision_fkey FOREIGN KEY (rig_id, revision) REFERENCES revisions
);

CREATE TABLE destinations (
    rig_id   uuid             NOT NULL,
    revision integer          NOT NULL,
    position integer          NOT NULL,
    slug     text             NOT NULL,
    limit_slug text             NOT NULL,
    air_m    double precision NOT NULL CONSTRAINT destinations_air_m_check CHECK (air_m >= 0 AND air_m < 'Infinity'),
    CONSTRAINT destinations_pkey PRIMARY KEY (rig_id, revision, slug),
    CONSTRAINT destinations_position_key UNIQUE (rig_id, revision, position),
    CONSTRAINT destinations_revision_fkey FOREIGN KEY (rig_id, revision) REFERENCES revisions
);

CREATE TABLE seats (
    rig_id      uuid             NOT NULL,
    revision    integer          NOT NULL,
    destination text             NOT NULL,
    position    integer          NOT NULL,
    slug        text             NOT NULL,
    air_m       double precision NOT NULL CONSTRAINT seats_air_m_check CHECK (air_m >= 0 AND air_m < 'Infinity'),
    CONSTRAINT seats_pkey PRIMARY KEY (rig_id, revision, destination, slug),
    CONSTRAINT seats_destination_fkey FOREIGN KEY (rig_id, revision, destination) REFERENCES destinations
);

-- A stage belongs to a chain or to the tail of a destination for one signal.
CREATE TABLE stages (
    rig_id      uuid    NOT NULL,
    revision    integer NOT NULL,
    chain       text,
    destination text,
    tail        text    CONSTRAINT stages_tail_check CHECK (tail IN ('picture', 'sound')),
    position    integer NOT NULL,
    device_id   uuid    NOT NULL CONSTRAINT stages_device_id_fkey REFERENCES devices,
    mode_id     uuid    NOT NULL CONSTRAINT stages_mode_id_fkey REFERENCES modes,
    unit_id     uuid    CONSTRAINT stages_unit_id_fkey REFERENCES units,
    timing      text    NOT NULL CONSTRAINT stages_timing_check CHECK (timing IN ('house', 'free', 'unknown')),
    CONSTRAINT stages_chain_fkey FOREIGN KEY (rig_id, revision, chain) REFERENCES chains,
    CONSTRAINT stages_destination_fkey FOREIGN KEY (rig_id, revision, destination) REFERENCES destinations,
    CONSTRAINT stages_owner_check CHECK ((chain IS NULL) <> (destination IS NULL) AND (destination IS NULL) = (tail IS NULL))
);
CREATE UNIQUE INDEX stages_chain_position_key ON stages (rig_id, revision, chain, position) WHERE chain IS NOT NULL;
CREATE UNIQUE INDEX stages_tail_position_key ON stages (rig_id, revision, destination, tail, position) WHERE tail IS NOT NULL;

CREATE TABLE stage_controls (
    rig_id         uuid    NOT NULL,
    revision       integer NOT NULL,
    chain          text,
    destination    text,
    tail           text,
    stage_position integer NOT NULL,
    position       integer NOT NULL,
    control_id     uuid    NOT NULL CONSTRAINT stage_controls_control_id_fkey REFERENCES controls,
    name           text    NOT NULL,
    ours           boolean,
    CONSTRAINT stage_controls_revision_fkey FOREIGN KEY (rig_id, revision) REFERENCES revisions
);
CREATE UNIQUE INDEX stage_controls_chain_position_key
    ON stage_controls (rig_id, revision, chain, stage_position, position) WHERE chain IS NOT NULL;
CREATE UNIQUE INDEX stage_controls_tail_position_key
    ON stage_controls (rig_id, revision, destination, tail, stage_position, position) WHERE tail IS NOT NULL;

CREATE TABLE feeds (
    rig_id       uuid             NOT NULL,
    revision     integer          NOT NULL,
    position     integer          NOT NULL,
    slug         text             NOT NULL,
    chain        text             NOT NULL,
    max_added_ms double precision NOT NULL CONSTRAINT feeds_max_added_ms_check CHECK (max_added_ms >= 0 AND max_added_ms < 'Infinity'),
    CONSTRAINT feeds_pkey PRIMARY KEY (rig_id, revision, slug),
    CONSTRAINT feeds_chain_fkey FOREIGN KEY (rig_id, revision, chain) REFERENCES chains
);

CREATE TABLE pairs (
    rig_id      uuid    NOT NULL,
    revision    integer NOT NULL,
    position    integer NOT NULL,
    picture     text    NOT NULL,
    sound       text    NOT NULL,
    destination text,
    importance  text    NOT NULL CONSTRAINT pairs_importance_check CHECK (importance IN ('hard', 'soft', 'ignore')),
    CONSTRAINT pairs_pkey PRIMARY KEY (rig_id, revision, position),
    CONSTRAINT pairs_revision_fkey FOREIGN KEY (rig_id, revision) REFERENCES revisions
);
COMMENT ON COLUMN pairs.picture IS 'A chain of the revision, or live; so no foreign key.';

-- The variances in use. They are facts: an estimate is repeated digit by digit
-- only with the variances that it was made with.

CREATE TABLE variance_fits (
    version   bigint           PRIMARY KEY CONSTRAINT variance_fits_version_fkey REFERENCES versions,
    fitted_at bigint           NOT NULL CONSTRAINT variance_fits_fitted_at_fkey REFERENCES versions,
    pooled_df double precision NOT NULL CONSTRAINT variance_fits_pooled_df_check CHECK (pooled_df >= 0 AND pooled_df < 'Infinity')
);
COMMENT ON COLUMN variance_fits.fitted_at IS 'The book version whose facts they were fitted to.';

CREATE TABLE variances (
    version   bigint           NOT NULL CONSTRAINT variances_version_fkey REFERENCES variance_fits,
    position  integer          NOT NULL,
    class     text             NOT NULL,
    ms2       double precision NOT NULL CONSTRAINT variances_ms2_check CHECK (ms2 > 0 AND ms2 < 'Infinity'),
    prior_ms2 double precision NOT NULL CONSTRAINT variances_prior_ms2_check CHECK (prior_ms2 > 0 AND prior_ms2 < 'Infinity'),
    nu_prior  double precision NOT NULL CONSTRAINT variances_nu_prior_check CHECK (nu_prior >= 0 AND nu_prior < 'Infinity'),
    phase     text             NOT NULL,
    CONSTRAINT variances_pkey PRIMARY KEY (version, position),
    CONSTRAINT variances_version_class_key UNIQUE (version, class)
);

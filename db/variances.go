package db

import (
	"context"

	"delaybook/domain"
)

var (
	varianceFits = newTable("variance_fits", "version", "fitted_at", "pooled_df")
	variances    = newTable("variances", "version", "position", "class", "ms2", "prior_ms2", "nu_prior", "phase")
)

func (t *tx) addVariances(ctx context.Context, facts *domain.Facts) error {
	for _, fit := range facts.Variances {
		t.queue(varianceFits, []any{fit.Version, fit.FittedAt, fit.PooledDF})
		var rows [][]any
		for i, v := range fit.Rows {
			rows = append(rows, []any{fit.Version, i, v.Class, v.MS2, v.PriorMS2, v.NuPrior, v.Phase})
		}
		if err := t.put(ctx, variances, rows); err != nil {
			return err
		}
	}
	return nil
}

type varianceFitRow struct {
	Version  domain.Version `db:"version"`
	FittedAt domain.Version `db:"fitted_at"`
	PooledDF float64        `db:"pooled_df"`
}

type varianceRow struct {
	Version  domain.Version `db:"version"`
	Class    string         `db:"class"`
	MS2      float64        `db:"ms2"`
	PriorMS2 float64        `db:"prior_ms2"`
	NuPrior  float64        `db:"nu_prior"`
	Phase    string         `db:"phase"`
}

func (l *loader) variances() {
	const fits = `
		SELECT version, fitted_at, pooled_df
		FROM   variance_fits
		WHERE  version > @after AND version <= @up_to
		ORDER  BY version`

	read(l, fits, func(r varianceFitRow) error {
		l.facts.Variances = append(l.facts.Variances, domain.Variances{
			FittedAt: r.FittedAt, PooledDF: r.PooledDF, Version: r.Version,
		})
		return nil
	})

	const rows = `
		SELECT version, class, ms2, prior_ms2, nu_prior, phase
		FROM   variances
		WHERE  version > @after AND version <= @up_to
		ORDER  BY version, position`

	next := 0 // the fit that the rows belong to; both come in order of version
	read(l, rows, func(r varianceRow) error {
		for l.facts.Variances[next].Version != r.Version {
			next++
		}
		fit := &l.facts.Variances[next]
		fit.Rows = append(fit.Rows, domain.Variance{
			Class: r.Class, MS2: r.MS2, PriorMS2: r.PriorMS2, NuPrior: r.NuPrior, Phase: r.Phase,
		})
		return nil
	})
}

package domain

// A Variance is the scatter of one class, in use by every estimate: the
// estimate of the class, and the prior that stands beside it.
type Variance struct {
	Class    string  `json:"class,omitzero"`     // such as take.free, read.clip, unit.camera; see package estimate
	MS2      float64 `json:"ms2,omitzero"`       // ms^2, > 0
	PriorMS2 float64 `json:"prior_ms2,omitzero"` // ms^2, > 0
	NuPrior  float64 `json:"nu_prior,omitzero"`  // degrees of freedom of the prior, >= 0
	Phase    string  `json:"phase,omitzero"`     // what the class test made of the known phase; empty: it holds
}

// Variances are the variances in use from one version of the book on. They are
// facts, so that estimates repeat digit by digit.
type Variances struct {
	Rows     []Variance `json:"rows,omitzero"`
	FittedAt Version    `json:"fitted_at,omitzero"` // the book version that they were fitted to
	PooledDF float64    `json:"pooled_df,omitzero"` // degrees of freedom behind them
	Version  Version    `json:"version,omitzero"`
}

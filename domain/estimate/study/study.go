// Package study simulates books whose truth is known and counts how often the
// 95 % ranges of package estimate hold it.
//
// A range that is too narrow is the worst fault that an estimate can have, and
// no single example shows it. So the variances of each simulated book are drawn
// from the priors that the estimator assumes, measurements are made from them
// the way crews make them, and the answers are compared with the truth. The
// interval that a spreadsheet would give, a t interval on all events pooled,
// stands beside them.
//
// Everything is repeatable: a study depends on its seed and on nothing else.
package study

import (
	"math"

	"delaybook/domain/law"
)

// Low and High bound the coverage that a 95 % range should reach.
const (
	Low  = 0.93
	High = 0.97
)

// sigmas is how far outside the bounds a share must lie before chance is ruled
// out. Among 500 shares at a bound, 4 standard errors are passed once in 60
// studies.
const sigmas = 4

// A Verdict says how a coverage compares with the bounds.
type Verdict string

// The verdicts.
const (
	Holds      Verdict = "holds"
	TooNarrow  Verdict = "too narrow"
	TooWide    Verdict = "too wide"
	WideOfWill Verdict = "wide on purpose" // the rule is deliberately careful
)

// A Tally counts ranges that hold the truth.
type Tally struct {
	Trials, Hits int
	HalfWidthMS  float64 // sum of the half-widths
}

func (t *Tally) count(low, high, truth float64) {
	t.Trials++
	t.HalfWidthMS += (high - low) / 2
	if low <= truth && truth <= high {
		t.Hits++
	}
}

// Coverage is the share of ranges that hold the truth; 0 without trials.
func (t Tally) Coverage() float64 {
	if t.Trials == 0 {
		return 0
	}
	return float64(t.Hits) / float64(t.Trials)
}

// MeanHalfWidthMS is the mean half-width; 0 without trials.
func (t Tally) MeanHalfWidthMS() float64 {
	if t.Trials == 0 {
		return 0
	}
	return t.HalfWidthMS / float64(t.Trials)
}

// Judge compares the coverage with the bounds, allowing for chance. A careful
// rule may cover more.
func (t Tally) Judge(careful bool) Verdict {
	slack := func(p float64) float64 { return sigmas * math.Sqrt(p*(1-p)/float64(t.Trials)) }
	switch c := t.Coverage(); {
	case c < Low-slack(Low):
		return TooNarrow
	case c > High+slack(High) && careful:
		return WideOfWill
	case c > High+slack(High):
		return TooWide
	}
	return Holds
}

// pooled is the naive interval: Student's t on all values as if they were
// independent. It needs two values.
func pooled(values []float64) (low, high float64, ok bool) {
	n := float64(len(values))
	if n < 2 {
		return 0, 0, false
	}
	mean, ss := 0.0, 0.0
	for k, v := range values {
		step := v - mean
		mean += step / float64(k+1)
		ss += step * (v - mean)
	}
	half := law.StudentQuantile(n-1, 0.95) * math.Sqrt(ss/(n-1)/n)
	return mean - half, mean + half, true
}

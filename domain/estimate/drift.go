package estimate

import (
	"math"

	"delaybook/domain/law"
)

// A drift is a straight line through the events of a list.
type drift struct {
	found     bool
	perSecond float64 // slope, ms per second
	residual  float64 // sum of squares about the line
	variance  float64 // (slope * duration)^2/12
}

const (
	driftEvents     = 4
	driftConfidence = 0.999
	driftLeastMS    = 1e-6 // over the whole recording: below it a slope is rounding
)

// findDrift fits a line to a list of events whose times are known. It is a drift
// when Student's test of the slope rejects 0 at 0.001.
func (t *taking) findDrift() drift {
	if t.style != listed || len(t.values) < driftEvents {
		return drift{}
	}
	times := make([]float64, len(t.values))
	for i, r := range t.m.Readings {
		if r.AtS == nil {
			return drift{}
		}
		times[i] = *r.AtS
	}
	meanT, sxx, duration := spread(times)
	meanY, syy, _ := spread(t.values)
	sxy := 0.0
	for i := range times {
		sxy += (times[i] - meanT) * (t.values[i] - meanY)
	}
	if !(sxx > 0) || math.Abs(sxy/sxx*duration) < driftLeastMS {
		return drift{}
	}
	slope := sxy / sxx
	residual := max(0, syy-slope*sxy)
	nu := float64(len(times) - 2)
	if slope*slope*sxx*nu <= residual*math.Pow(law.StudentQuantile(nu, driftConfidence), 2) {
		return drift{}
	}
	across := slope * duration
	return drift{found: true, perSecond: slope, residual: residual, variance: across * across / 12}
}

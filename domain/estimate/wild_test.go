package estimate_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"delaybook/domain/adjust"
	"delaybook/domain/estimate"
)

// Numbers far beyond any rig may be refused as numerically singular, or
// not settle in a fit; they are
// never answered with nonsense.
func TestWildNumbersAreRefusedOrSound(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(31, 32))
	wild := func(low, high float64) float64 { return math.Pow(10, low+(high-low)*random.Float64()) }
	answered := 0
	for range 40 {
		b := randomBook(random, rate(t, "25"), 1+random.IntN(3))
		for i := range b.Measurements {
			for k := range b.Measurements[i].Readings {
				if r := &b.Measurements[i].Readings[k]; r.OffsetMS != nil {
					*r.OffsetMS = wild(-3, 6) * float64(random.IntN(2)*2-1)
					if r.UMS != nil {
						*r.UMS = wild(-5, 4)
					}
				}
			}
		}
		s, err := estimate.Solve(b)
		if err != nil {
			t.Fatalf("at the priors: %v", err)
		}
		b.Variances = s.Variances()
		for i := range b.Variances {
			b.Variances[i].MS2, b.Variances[i].NuPrior = wild(-11, 11), wild(-2, 6)
		}
		for name, solve := range map[string]func(estimate.Book) (*estimate.Solution, error){"fixed": estimate.Solve, "fitted": estimate.Fit} {
			s, err := solve(b)
			if err != nil {
				if !errors.Is(err, adjust.ErrSingular) && !errors.Is(err, adjust.ErrUnsettled) {
					t.Errorf("%s: %v", name, err)
				}
				continue
			}
			answered++
			for key, value := range everything(t, b, s) {
				if bad := unsound(reflect.ValueOf(value), key); bad != "" {
					t.Errorf("%s: %s", name, bad)
				}
			}
		}
	}
	if answered < 40 {
		t.Errorf("only %d of 80 were answered", answered)
	}
}

package adjust_test

import (
	"math"
	"testing"

	"delaybook/domain/adjust"
	"delaybook/domain/law"

	"gonum.org/v1/gonum/stat/distuv"
)

// An unseen is an error whose variance is drawn from a scaled inverse
// chi-squared law: ms2 nu/chi2(nu).
type unseen struct{ ms2, nu float64 }

// covers is the chance that an error of known normal variance plus unseen ones
// stays within +-half: the mean over a grid of equally likely variances.
func covers(half, known float64, errors ...unseen) float64 {
	const steps = 250
	if len(errors) == 0 {
		return math.Erf(half / math.Sqrt(2*known))
	}
	e, sum := errors[0], 0.0
	chi := distuv.ChiSquared{K: e.nu}
	for k := range steps {
		v := e.ms2 * e.nu / chi.Quantile((float64(k)+0.5)/steps)
		sum += covers(half, known+v, errors[1:]...)
	}
	return sum / steps
}

// The 5 % points of the Behrens-Fisher law at 45 degrees (P. V. Sukhatme,
// Sankhya 4 (1938) 39, and table VI of Fisher and Yates; from memory): those of
// Student's t of the same degrees of freedom are 2.447 and 2.306.
func TestTailsOfTheBehrensFisherLaw(t *testing.T) {
	t.Parallel()
	for nu, point := range map[float64]float64{6: 2.435, 8: 2.292} {
		if got := covers(point, 0, unseen{0.5, nu}, unseen{0.5, nu}); math.Abs(got-0.95) > 5e-4 {
			t.Errorf("%v and %v degrees of freedom: %v within %v", nu, nu, got, point)
		}
	}
}

// One measurement of one reading: what power-ups and what readings scatter is
// known from priors alone. Their degrees of freedom do not add.
func TestTwinsAreOneIgnorance(t *testing.T) {
	t.Parallel()
	both := []adjust.Twins{{First: 0, Second: 1}}
	for name, c := range map[string]struct {
		power, reading, known float64
		twins                 []adjust.Twins
		df, covered           float64
	}{
		"apart":                    {1, 1, 0, nil, 8, 0.912},
		"twins":                    {1, 1, 0, both, 4, 0.949},
		"twins, unequal":           {2, 1, 0, both, 4, 0.949},
		"a twentieth of it known":  {1, 1, 2.0 / 19, both, 8 / 0.95 / 0.95, 0.912},
		"half as much of it known": {1, 1, 2.0 / 39, both, 8 / 0.975 / 0.975 / 1.5, 0.931},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			params := []adjust.Param{{Value: c.power, Scale: c.power, Nu: 4}, {Value: c.reading, Scale: c.reading, Nu: 4}}
			row := adjust.Row{
				Terms: []adjust.Term{{Coef: 1}}, Known: c.known, Weight: 1,
				Parts: []adjust.Part{{Param: 0, Factor: 1}, {Param: 1, Factor: 1}},
			}
			m := &adjust.Model{Columns: 1, Blocks: []adjust.Block{{Rows: []adjust.Row{row}}}}
			s, err := adjust.Solve(m, []float64{c.power, c.reading})
			if err != nil {
				t.Fatal(err)
			}
			u, err := adjust.NewUncertainty(params, s.Slope().Info, c.twins...)
			if err != nil {
				t.Fatal(err)
			}
			variance, df := u.Adjusted(s.Contrast(row.Terms))
			near(t, "variance", variance, c.power+c.reading+c.known, 1e-12)
			near(t, "degrees of freedom", df, c.df, 1e-12)
			half := law.StudentQuantile(df, 0.95) * math.Sqrt(variance)
			got := covers(half, c.known, unseen{c.power, 4}, unseen{c.reading, 4})
			if math.Abs(got-c.covered) > 1e-3 {
				t.Errorf("%v covered, want %v", got, c.covered)
			}
		})
	}
}

// The worked books fix the degrees of freedom where known variance or a second
// unit takes part. This is what those intervals cover when the variances that
// only priors of 4 know are drawn from them: STATISTICS.md tells of it.
func TestWhatTheWorkedIntervalsCover(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		half, known float64
		errors      []unseen
		covered     float64
	}{
		"08, ci95":   {3.1264706, 1.25, []unseen{{1, 4}}, 0.926},
		"08, next95": {3.9880266, 1.25, []unseen{{2, 4}}, 0.929},
		"08, camera": {3.6814587, 1.25, []unseen{{1, 4}, {0.9, 4}}, 0.910},
		// Without twins, readings that scatter by 1 ms for sure: sqrt(2) t_8.
		"one reading": {3.2611817, 1, []unseen{{1, 4}}, 0.945},
	} {
		if got := covers(c.half, c.known, c.errors...); math.Abs(got-c.covered) > 1e-3 {
			t.Errorf("%s: %v covered, want %v", name, got, c.covered)
		}
	}
}

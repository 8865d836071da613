package adjust_test

import (
	"fmt"
	"math"
	"testing"

	"delaybook/domain/adjust"
	"delaybook/domain/law"
)

// one is the design of a mean with nested or crossed random factors and a rest.
func one(tb testing.TB, file, y string, keep func(row int) bool, factors ...func(t table, row int) string) *design {
	tb.Helper()
	data := readTable(tb, "testdata/outside/"+file)
	d := newDesign("mean")
	for i := range data.rows {
		if keep != nil && !keep(i+1) {
			continue
		}
		terms := []adjust.Term{{Column: 0, Coef: 1}}
		for k, f := range factors {
			terms = append(terms, d.unit(k, f(data, i)))
		}
		d.row(data.number(tb, i, y), terms, adjust.Part{Param: len(factors), Factor: 1})
	}
	return d
}

func by(names ...string) func(t table, row int) string {
	return func(t table, row int) string {
		key := ""
		for _, n := range names {
			key += t.text(row, n) + "/"
		}
		return key
	}
}

// JCGM 100:2008, annex H.5: a voltage standard read five times on each of ten
// days, printed as means and standard deviations (table H.9). It prints 18 uV for
// the mean with 9 degrees of freedom, 43 uV between days, 85 uV within; the
// further digits follow from the table by the closed forms of H.5.2.
func TestDaysOfTheGUM(t *testing.T) {
	t.Parallel()
	data := readTable(t, "testdata/outside/gum_h5.csv")
	d := newDesign("mean")
	for i := range data.rows {
		uv := (data.number(t, i, "mean_V") - 10) * 1e6
		d.row(uv, []adjust.Term{{Column: 0, Coef: 1}}, adjust.Part{Param: 0, Factor: 1}, adjust.Part{Param: 1, Factor: 1.0 / 5})
		s := data.number(t, i, "sd_uV")
		d.scatter(adjust.Within{Param: 1, DF: 4, SS: 4 * s * s})
	}
	f, u := fitOne(t, d.model(), []adjust.Param{{Value: 1000}, {Value: 1000}})
	c := f.States[0].Contrast([]adjust.Term{{Column: 0, Coef: 1}})
	variance, df := u.Adjusted(c)
	near(t, "mean", c.Value, 97.1, 1e-6) // 10.000 097 V
	near(t, "between days", math.Sqrt(f.Params[0].Value), 42.6386, 2e-6)
	near(t, "within days", math.Sqrt(f.Params[1].Value), 84.8870, 2e-6)
	near(t, "standard uncertainty", math.Sqrt(variance), 18.0533, 3e-6)
	near(t, "degrees of freedom", df, 9, 1e-6)
}

// Published fits by REML: D. M. Bates, lme4 (Dyestuff2: G. E. P. Box, G. C. Tiao,
// Bayesian Inference in Statistical Analysis, 1973, 5.1.2; Pastes: O. L. Davies,
// P. L. Goldsmith, Statistical Methods, 1972, 6.5); J. C. Pinheiro, D. M. Bates,
// Mixed-Effects Models, 2000 (Rail); C. P. Doncaster, A. J. H. Davey, Analysis of
// Variance and Covariance, 2007, model 2.2; an unbalanced run of CLSI EP05-A2
// type (CRAN package VCA, VCAdata1 without eight rows; digits from lme4 1.1-31).
func TestPublishedVarianceComponents(t *testing.T) {
	t.Parallel()
	left := map[int]bool{11: true, 12: true, 17: true, 37: true, 45: true, 56: true, 57: true, 68: true}
	for name, c := range map[string]struct {
		d         *design
		sd        []float64 // standard deviations
		mean, se  float64
		tolerance float64
	}{
		"dyestuff2": {one(t, "dyestuff2.csv", "Yield", nil, by("Batch")), []float64{0, 3.715684}, 5.6656, 0.678388, 2e-6},
		"rail":      {one(t, "rail.csv", "travel", nil, by("Rail")), []float64{24.805465348, 4.020779361}, 66.5, 10.171037312, 1e-9},
		"pastes":    {one(t, "pastes.csv", "strength", nil, by("batch"), by("sample")), []float64{1.2873652, 2.9040776, 0.8234075}, 60.053333, 0.676870, 1e-6},
		"doncaster": {
			one(t, "nested_dd22.csv", "Y", nil, by("A"), by("A", "B"), by("A", "B", "C")),
			[]float64{math.Sqrt(35.000913), math.Sqrt(18.748029), math.Sqrt(5.753033), math.Sqrt(6.174665)},
			10.601154, 3.940601, 1e-6,
		},
		"unbalanced": {
			one(t, "vca_dataep05a2_1.csv", "y", func(row int) bool { return !left[row] }, by("day"), by("day", "run")),
			[]float64{math.Sqrt(0.283587), math.Sqrt(0.905865), math.Sqrt(2.067685)},
			0, 0, 2e-6,
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f, _ := fitOne(t, c.d.model(), start(len(c.sd)))
			for i, want := range c.sd {
				near(t, fmt.Sprintf("component %d", i), math.Sqrt(f.Params[i].Value), want, c.tolerance)
			}
			if contrast := f.States[0].Contrast([]adjust.Term{{Column: 0, Coef: 1}}); c.se > 0 {
				near(t, "mean", contrast.Value, c.mean, c.tolerance)
				near(t, "se", math.Sqrt(contrast.Variance), c.se, c.tolerance)
			}
		})
	}
}

// Six rails have five degrees of freedom: 40.35 to 92.65, not the 44.34 to 88.66
// that 12 degrees of freedom give in print.
func TestIntervalOfSixRails(t *testing.T) {
	t.Parallel()
	f, u := fitOne(t, one(t, "rail.csv", "travel", nil, by("Rail")).model(), start(2))
	c := f.States[0].Contrast([]adjust.Term{{Column: 0, Coef: 1}})
	variance, df := u.Adjusted(c)
	near(t, "degrees of freedom", df, 5, 1e-8)
	l, err := law.FromMoments(variance, c.Kappa, df)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low", c.Value-l.HalfWidth95(), 40.35, 1.3e-4)
	near(t, "high", c.Value+l.HalfWidth95(), 92.65, 1e-4)
}

// NIST Statistical Reference Datasets, analysis of variance: SiRstv (lower
// difficulty) and AtmWtAg (average). In a balanced layout the fitted variances
// are the mean squares: the rest MS_w, the groups (MS_b - MS_w)/n.
func TestCertifiedMeanSquares(t *testing.T) {
	t.Parallel()
	for file, c := range map[string]struct{ n, between, within, centre, scale, tolerance float64 }{
		"nist_sirstv.csv":  {5, 1.27865654000000e-02, 1.08318280000000e-02, 196, 10, 1e-9},
		"nist_atmwtag.csv": {24, 3.63834187500000e-09, 2.28155932971014e-10, 107.868, 1e5, 1e-8},
	} {
		data := readTable(t, "testdata/outside/"+file)
		d := newDesign("mean")
		for i := range data.rows {
			d.row((data.number(t, i, "value")-c.centre)*c.scale, []adjust.Term{{Column: 0, Coef: 1}, d.unit(0, data.text(i, "group"))},
				adjust.Part{Param: 1, Factor: 1})
		}
		f, _ := fitOne(t, d.model(), start(2))
		near(t, file+" within", f.Params[1].Value/(c.scale*c.scale), c.within, c.tolerance)
		near(t, file+" between", f.Params[0].Value/(c.scale*c.scale), (c.between-c.within)/c.n, 10*c.tolerance)
	}
}

// NIST Statistical Reference Datasets, linear regression: Norris.
func TestCertifiedRegression(t *testing.T) {
	t.Parallel()
	data := readTable(t, "testdata/outside/nist_norris.csv")
	d := newDesign("B0", "B1")
	for i := range data.rows {
		d.row(data.number(t, i, "y"), []adjust.Term{{Column: 0, Coef: 1}, {Column: 1, Coef: data.number(t, i, "x")}}, adjust.Part{Param: 0, Factor: 1})
	}
	f, _ := fitOne(t, d.model(), start(1))
	for i, want := range [][2]float64{{-0.262323073774029, 0.232818234301152}, {1.00211681802045, 0.429796848199937e-03}} {
		c := f.States[0].Contrast([]adjust.Term{{Column: i, Coef: 1}})
		near(t, d.fixed[i], c.Value, want[0], 1e-11)
		near(t, d.fixed[i]+" se", math.Sqrt(c.Variance), want[1], 1e-10)
	}
	near(t, "s", math.Sqrt(f.Params[0].Value), 0.884796396144373, 1e-10)
}

// Means of known uncertainty with an unknown scatter between them, by REML: BCG
// trials (G. A. Colditz et al., JAMA 271 (1994) 698; digits of R metafor, W.
// Viechtbauer, J. Stat. Softw. 36(3), 2010); heat of vaporisation of cadmium (R. C.
// Paule, J. Mandel, J. Res. NBS 87 (1982) 377) and PCB-105 (key comparison
// CCQM-K25), both with the digits of metafor.
func TestMeansOfKnownUncertainty(t *testing.T) {
	t.Parallel()
	for file, c := range map[string]struct {
		y, v          string
		squared       bool
		tau2, mean, s float64
	}{
		"bcg.csv":         {"yi", "vi", true, 0.313243, -0.714532, 0.179782},
		"meta_cd.csv":     {"value", "variance", true, 0.0995878, 26.715275, 0.167205},
		"meta_pcb105.csv": {"value", "u", false, 0.2138569, 10.556452, 0.203104},
	} {
		data := readTable(t, "testdata/outside/"+file)
		d := newDesign("mean")
		for i := range data.rows {
			d.row(data.number(t, i, c.y), []adjust.Term{{Column: 0, Coef: 1}}, adjust.Part{Param: 0, Factor: 1})
			v := data.number(t, i, c.v)
			if !c.squared {
				v *= v
			}
			d.block[len(d.block)-1].Rows[0].Known = v
		}
		f, _ := fitOne(t, d.model(), start(1))
		contrast := f.States[0].Contrast([]adjust.Term{{Column: 0, Coef: 1}})
		near(t, file+" tau^2", f.Params[0].Value, c.tau2, 4e-6)
		near(t, file+" mean", contrast.Value, c.mean, 1e-6)
		near(t, file+" se", math.Sqrt(contrast.Variance), c.s, 3e-6)
	}
}

package adjust_test

import (
	"math"
	"slices"
	"testing"

	"delaybook/domain/adjust"
	"delaybook/domain/law"
)

// A levelling network: heights are to levelled differences what latencies are to
// offsets.
type network struct {
	points []string
	rows   []adjust.Row
}

// level reads lines "from, to, difference" with a variance each; heights of known
// points go to the other side.
func level(tb testing.TB, file, dh string, fixed map[string]float64, variance func(t table, row int) float64) network {
	tb.Helper()
	data := readTable(tb, "testdata/outside/"+file)
	var n network
	for i := range data.rows {
		for _, end := range []string{"from", "to"} {
			name := data.text(i, end)
			if _, known := fixed[name]; !known && !slices.Contains(n.points, name) {
				n.points = append(n.points, name)
			}
		}
	}
	slices.Sort(n.points)
	for i := range data.rows {
		row := adjust.Row{Y: data.number(tb, i, dh), Known: variance(data, i), Weight: 1}
		for end, sign := range map[string]float64{"from": -1, "to": 1} {
			name := data.text(i, end)
			if h, known := fixed[name]; known {
				row.Y -= sign * h
			} else {
				row.Terms = append(row.Terms, adjust.Term{Column: slices.Index(n.points, name), Coef: sign})
			}
		}
		n.rows = append(n.rows, row)
	}
	return n
}

func (n network) model() *adjust.Model {
	m := &adjust.Model{Columns: len(n.points)}
	for _, r := range n.rows {
		m.Blocks = append(m.Blocks, adjust.Block{Rows: []adjust.Row{r}})
	}
	return m
}

func TestPublishedLevellingNetworks(t *testing.T) {
	t.Parallel()
	sevenths := map[string]float64{"X": 100, "Y": 107.5}
	for name, c := range map[string]struct {
		n       network
		heights []float64
		sds     []float64 // at unit reference variance
		pvv     float64   // weighted square sum of residuals
	}{
		// C. D. Ghilani, P. R. Wolf, Adjustment Computations, ch. 12: 105.141,
		// 104.483, 106.188, S0 0.050 by equal weights; 105.150, 104.489, 106.197,
		// S0 0.107 by 12/length (data from memory; they give the printed results
		// exactly). The fractions are the exact solutions.
		"Ghilani, equal weights": {
			level(t, "level_ghilani.csv", "dh", sevenths, func(table, int) float64 { return 1 }),
			[]float64{55199.0 / 525, 36569.0 / 350, 111497.0 / 1050},
			[]float64{math.Sqrt(8.0 / 21), math.Sqrt(3.0 / 7), math.Sqrt(8.0 / 21)},
			4 * 0.050119 * 0.050119,
		},
		"Ghilani, by length": {
			level(t, "level_ghilani.csv", "dh", sevenths, func(d table, i int) float64 { return d.number(t, i, "length_miles") / 12 }),
			[]float64{65719.0 / 625, 261223.0 / 2500, 265493.0 / 2500},
			[]float64{math.Sqrt(7.0 / 75), math.Sqrt(52.0 / 675), math.Sqrt(11.0 / 150)},
			4 * 0.107219 * 0.107219,
		},
		// E. M. Mikhail, F. Ackermann, Observations and Least Squares, 1976, example
		// 7.4 (data of a public re-implementation; digits computed independently).
		"Mikhail": {
			level(t, "level_mikhail.csv", "dh_m", map[string]float64{"A": 800}, func(d table, i int) float64 { return d.number(t, i, "length_km") / 10 }),
			[]float64{825.220624, 835.535430, 809.533928, 830.846029},
			scaleAll([]float64{0.180514, 0.161455, 0.200965, 0.171073}, 1/math.Sqrt(0.0404284)), 0.1617137,
		},
		// Sample output of GNU Gama 1.5.09: eight levels round a loop, metres.
		"Gama": {
			level(t, "level_gama.csv", "dh_m", map[string]float64{"1a": 1000}, func(d table, i int) float64 { return 25e-6 }),
			[]float64{999.274875, 997.933250, 998.775125},
			[]float64{math.Sqrt(9.375e-6), math.Sqrt(12.5e-6), math.Sqrt(9.375e-6)},
			146.625 / 25,
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s, err := adjust.Solve(c.n.model(), nil)
			if err != nil {
				t.Fatal(err)
			}
			for i, p := range c.n.points {
				k := s.Contrast([]adjust.Term{{Column: i, Coef: 1}})
				near(t, "height of "+p, k.Value, c.heights[i], 1e-9)
				near(t, "deviation of "+p, math.Sqrt(k.Variance), c.sds[i], 5e-6)
			}
			near(t, "weighted squares", s.Quadratic(), c.pvv, 5e-5)
			c.n.redundancy(t, s)
		})
	}
}

func scaleAll(values []float64, by float64) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = v * by
	}
	return out
}

// redundancy checks that the redundancy numbers, d/SD^2 of the deleted
// residuals, add up to rows minus columns.
func (n network) redundancy(t *testing.T, s *adjust.State) {
	t.Helper()
	sum := 0.0
	for i, d := range s.Deleted() {
		sum += n.rows[i].Known / (d.SD * d.SD)
	}
	near(t, "redundancy", sum, float64(len(n.rows)-len(n.points)), 1e-9)
}

// GNU Gama's sample output names observation 6 with the largest normalised
// residual, 1.68; each of its lines has redundancy 0.625. W. Baarda's smallest
// error that is found with 80 % at 0.1 % is then 4.1321 sigma/sqrt(0.625).
func TestNormalisedResiduals(t *testing.T) {
	t.Parallel()
	n := level(t, "level_gama.csv", "dh_m", map[string]float64{"1a": 1000}, func(table, int) float64 { return 25e-6 })
	s, err := adjust.Solve(n.model(), nil)
	if err != nil {
		t.Fatal(err)
	}
	largest := adjust.Deleted{}
	for _, d := range s.Deleted() {
		if d.Ratio > largest.Ratio {
			largest = d
		}
	}
	if largest.Block != 5 {
		t.Errorf("observation %d has the largest residual, want 6", largest.Block+1)
	}
	near(t, "normalised residual", largest.Ratio, 1.67601, 5e-6)
	near(t, "deviation", largest.SD, 5e-3/math.Sqrt(0.625), 1e-9)
}

// Scaling all variances leaves the heights alone; moving the datum moves them all.
func TestDatumAndScaleOfANetwork(t *testing.T) {
	t.Parallel()
	solve := func(datum, scale float64) *adjust.State {
		n := level(t, "level_mikhail.csv", "dh_m", map[string]float64{"A": 800 + datum}, func(d table, i int) float64 { return scale * d.number(t, i, "length_km") })
		s, err := adjust.Solve(n.model(), nil)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	want, scaled, moved := solve(0, 1), solve(0, 7), solve(3, 1)
	for i, x := range want.X() {
		near(t, "scaled", scaled.X()[i], x, 1e-13)
		near(t, "moved", moved.X()[i], x+3, 1e-13)
	}
	near(t, "squares", scaled.Quadratic(), want.Quadratic()/7, 1e-6)
}

// W. Baarda, A testing procedure for use in geodetic networks (1968): critical
// values of a single test, and the bias that is found with 80 % at 0.1 %. A. J.
// Pope, NOAA TR NOS 65 NGS 1 (1976): tau = sqrt(nu) t/sqrt(nu-1+t^2) with t of
// nu-1 degrees of freedom, where the scale comes from the same residuals. The
// formulas are from memory, the digits were computed with R.
func TestCriticalValuesOfBaardaAndPope(t *testing.T) {
	t.Parallel()
	for alpha, want := range map[float64]float64{0.001: 3.290527, 0.01: 2.575829, 0.05: 1.959964} {
		near(t, "Baarda", law.NormalQuantile(1-alpha/2), want, 5e-7)
	}
	near(t, "shift at 80 %", law.NormalQuantile(1-0.0005)+law.NormalQuantile(0.8), 4.132148, 5e-7)
	freedom := []float64{2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50, 100}
	for alpha, want := range map[float64][]float64{
		0.05:  {1.4099, 1.6454, 1.7567, 1.8143, 1.8481, 1.8848, 1.9039, 1.9261, 1.9358, 1.9447, 1.9512, 1.9557},
		0.01:  {1.4140, 1.7147, 1.9175, 2.0509, 2.1421, 2.2562, 2.3236, 2.4113, 2.4539, 2.4956, 2.5282, 2.5522},
		0.001: {1.4142, 1.7303, 1.9823, 2.1781, 2.3292, 2.5407, 2.6786, 2.8735, 2.9749, 3.0785, 3.1626, 3.2263},
	} {
		for i, nu := range freedom {
			q := law.StudentQuantile(nu-1, 1-alpha)
			near(t, "Pope", math.Sqrt(nu)*q/math.Sqrt(nu-1+q*q), want[i], 5.1e-5)
		}
	}
}

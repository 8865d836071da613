package adjust_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"delaybook/domain/adjust"
)

// The golden numbers come from R 4.2.2 with lme4 1.1-31, lmerTest 3.1-3 and
// pbkrtest 0.5.2 (Kenward-Roger); testdata/golden/golden.json records the calls.
type golden struct {
	Fixef   map[string]float64 `json:"fixef"`
	SE      map[string]float64 `json:"se"`
	Varcomp map[string]float64 `json:"varcomp"`
	KRSE    map[string]float64 `json:"kr_se"`
	KRDF    map[string]float64 `json:"kr_df"`
}

func readGolden(tb testing.TB, name string) golden {
	tb.Helper()
	raw, err := os.ReadFile("testdata/golden/golden.json")
	if err != nil {
		tb.Fatal(err)
	}
	all := map[string]golden{}
	if err := json.Unmarshal(raw, &all); err != nil {
		tb.Fatal(err)
	}
	return all[name]
}

type table struct {
	head map[string]int
	rows [][]string
}

func readTable(tb testing.TB, path string) table {
	tb.Helper()
	f, err := os.Open(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		tb.Fatal(err)
	}
	t := table{head: map[string]int{}, rows: rows[1:]}
	for i, name := range rows[0] {
		t.head[name] = i
	}
	return t
}

func (t table) text(row int, name string) string { return t.rows[row][t.head[name]] }

func (t table) number(tb testing.TB, row int, name string) float64 {
	tb.Helper()
	v, err := strconv.ParseFloat(t.text(row, name), 64)
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

// A design collects rows with named fixed and random columns.
type design struct {
	fixed  []string
	column map[string]int
	random []adjust.Random
	block  []adjust.Block
}

func newDesign(fixed ...string) *design {
	d := &design{fixed: fixed, column: map[string]int{}}
	for i, f := range fixed {
		d.column[f] = i
	}
	return d
}

func (d *design) unit(param int, name string) adjust.Term {
	key := strconv.Itoa(param) + "/" + name
	c, ok := d.column[key]
	if !ok {
		c = len(d.column)
		d.column[key] = c
		d.random = append(d.random, adjust.Random{Column: c, Param: param})
	}
	return adjust.Term{Column: c, Coef: 1}
}

func (d *design) row(y float64, terms []adjust.Term, parts ...adjust.Part) {
	d.block = append(d.block, adjust.Block{Rows: []adjust.Row{{Terms: terms, Y: y, Parts: parts, Weight: 1}}})
}

// scatter gives the last row the scatter inside it.
func (d *design) scatter(w adjust.Within) { d.block[len(d.block)-1].Rows[0].Within = w }

func (d *design) model() *adjust.Model {
	return &adjust.Model{Columns: len(d.column), Random: d.random, Blocks: d.block}
}

// collapse groups readings by key and returns mean, count and sum of squares.
func collapse(tb testing.TB, t table, y string, key func(int) string) (keys []string, first map[string]int, mean, n, ss map[string]float64) {
	tb.Helper()
	first, mean, n, ss = map[string]int{}, map[string]float64{}, map[string]float64{}, map[string]float64{}
	for i := range t.rows {
		k := key(i)
		if n[k] == 0 {
			keys = append(keys, k)
			first[k] = i
		}
		v := t.number(tb, i, y)
		n[k]++
		delta := v - mean[k]
		mean[k] += delta / n[k]
		ss[k] += delta * (v - mean[k])
	}
	return keys, first, mean, n, ss
}

func start(n int) []adjust.Param {
	out := make([]adjust.Param, n)
	for i := range out {
		out[i].Value = 3
	}
	return out
}

func fitOne(tb testing.TB, m *adjust.Model, params []adjust.Param) (*adjust.Fitted, *adjust.Uncertainty) {
	tb.Helper()
	f, err := adjust.Fit([]*adjust.Model{m}, params)
	if err != nil {
		tb.Fatal(err)
	}
	u, err := adjust.NewUncertainty(f.Params, f.Info)
	if err != nil {
		tb.Fatal(err)
	}
	return f, u
}

func near(tb testing.TB, what string, got, want, relative float64) {
	tb.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		tb.Errorf("%s = %.12g, want %.12g (off by %.1e)", what, got, want, math.Abs(got-want)/math.Abs(want))
	}
}

// agree compares a fit with R. R's optimiser stops about 1e-7 before the
// optimum in the variances, which bounds what can be asked.
func agree(tb testing.TB, d *design, g golden, varcomp []string, params []adjust.Param) {
	tb.Helper()
	f, u := fitOne(tb, d.model(), params)
	for i, name := range varcomp {
		near(tb, "variance "+name, f.Params[i].Value, g.Varcomp[name], 2e-6)
	}
	for _, name := range d.fixed {
		c := f.States[0].Contrast([]adjust.Term{{Column: d.column[name], Coef: 1}})
		variance, df := u.Adjusted(c)
		near(tb, name, c.Value, g.Fixef[name], 1e-6)
		near(tb, name+" se", math.Sqrt(c.Variance), g.SE[name], 1e-6)
		near(tb, name+" adjusted se", math.Sqrt(variance), g.KRSE[name], 1e-6)
		near(tb, name+" df", df, g.KRDF[name], 1e-6)
	}
}

func TestDyestuffAsReadings(t *testing.T) {
	t.Parallel()
	data := readTable(t, "testdata/golden/dyestuff.csv")
	d := newDesign("(Intercept)")
	for i := range data.rows {
		d.row(data.number(t, i, "Yield"), []adjust.Term{{Column: 0, Coef: 1}, d.unit(0, data.text(i, "Batch"))},
			adjust.Part{Param: 1, Factor: 1})
	}
	agree(t, d, readGolden(t, "dyestuff"), []string{"Batch:(Intercept)", "Residual:"}, start(2))
}

// Collapsing readings to mean, count and sum of squares loses nothing.
func TestDyestuffCollapsed(t *testing.T) {
	t.Parallel()
	data := readTable(t, "testdata/golden/dyestuff.csv")
	d := newDesign("(Intercept)")
	keys, _, mean, n, ss := collapse(t, data, "Yield", func(i int) string { return data.text(i, "Batch") })
	for _, k := range keys {
		d.row(mean[k], []adjust.Term{{Column: 0, Coef: 1}}, adjust.Part{Param: 0, Factor: 1}, adjust.Part{Param: 1, Factor: 1 / n[k]})
		d.scatter(adjust.Within{Param: 1, DF: n[k] - 1, SS: ss[k]})
	}
	agree(t, d, readGolden(t, "dyestuff"), []string{"Batch:(Intercept)", "Residual:"}, start(2))
}

func TestPenicillin(t *testing.T) {
	t.Parallel()
	data := readTable(t, "testdata/golden/penicillin.csv")
	d := newDesign("(Intercept)")
	for i := range data.rows {
		d.row(data.number(t, i, "diameter"), []adjust.Term{
			{Column: 0, Coef: 1},
			d.unit(0, data.text(i, "plate")), d.unit(1, data.text(i, "sample")),
		}, adjust.Part{Param: 2, Factor: 1})
	}
	agree(t, d, readGolden(t, "penicillin"), []string{"plate:(Intercept)", "sample:(Intercept)", "Residual:"}, start(3))
}

func TestChainsWithTwoUnitFactors(t *testing.T) {
	t.Parallel()
	data := readTable(t, "testdata/golden/chains_d.csv")
	d := newDesign("V1", "V2", "V3", "V4", "V5", "V6", "A1", "A2", "A3", "A4")
	keys, first, mean, n, ss := collapse(t, data, "lead_ms", func(i int) string { return data.text(i, "take") })
	for _, k := range keys {
		i := first[k]
		var terms []adjust.Term
		for c, name := range d.fixed {
			if v := data.number(t, i, name); v != 0 {
				terms = append(terms, adjust.Term{Column: c, Coef: v})
			}
		}
		terms = append(terms, d.unit(1, data.text(i, "vunit")), d.unit(2, data.text(i, "aunit")))
		d.row(mean[k], terms, adjust.Part{Param: 0, Factor: 1}, adjust.Part{Param: 3, Factor: 1 / n[k]})
		d.scatter(adjust.Within{Param: 3, DF: n[k] - 1, SS: ss[k]})
	}
	agree(t, d, readGolden(t, "chains_d"), []string{"take:(Intercept)", "vunit:(Intercept)", "aunit:(Intercept)", "Residual:"}, start(4))
}

func TestTwoClassesOfTakes(t *testing.T) {
	t.Parallel()
	data := readTable(t, "testdata/golden/classes_b.csv")
	d := newDesign("(Intercept)", "camcamB", "camcamC", "monm2", "monm3", "monm4")
	keys, first, mean, n, ss := collapse(t, data, "lead_ms", func(i int) string { return data.text(i, "take") })
	for _, k := range keys {
		i := first[k]
		terms := []adjust.Term{{Column: 0, Coef: 1}}
		for _, name := range []string{"cam" + data.text(i, "cam"), "mon" + data.text(i, "mon")} {
			if c := slices.Index(d.fixed, name); c >= 0 {
				terms = append(terms, adjust.Term{Column: c, Coef: 1})
			}
		}
		terms = append(terms, d.unit(2, data.text(i, "cunit")), d.unit(3, data.text(i, "munit")))
		class := 0
		if data.text(i, "free") == "1" {
			class = 1
		}
		d.row(mean[k], terms, adjust.Part{Param: class, Factor: 1}, adjust.Part{Param: 4, Factor: 1 / n[k]})
		d.scatter(adjust.Within{Param: 4, DF: n[k] - 1, SS: ss[k]})
	}
	agree(t, d, readGolden(t, "classes_b"), []string{"take:locked", "take.1:free", "cunit:(Intercept)", "munit:(Intercept)", "Residual:"}, start(5))
}

package law_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"delaybook/domain/law"
)

// The columns are those of JCGM 100:2008 Table G.2, which prints two decimals;
// the file carries eight good ones.
func TestStudentQuantileAgreesWithTheTable(t *testing.T) {
	t.Parallel()
	f, err := os.Open("testdata/student_t_two_sided.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	levels := []float64{math.Erf(1 / math.Sqrt2), 0.9, 0.95, math.Erf(2 / math.Sqrt2), 0.99, math.Erf(3 / math.Sqrt2)}
	for _, row := range rows[1:] {
		nu, err := strconv.ParseFloat(row[0], 64)
		if err != nil {
			nu = math.Inf(1)
		}
		for i, p := range levels {
			want, err := strconv.ParseFloat(row[i+1], 64)
			if err != nil {
				t.Fatal(err)
			}
			if got := law.StudentQuantile(nu, p); math.Abs(got-want) > 1e-8*max(1, want) {
				t.Errorf("t(%v, %v) = %.12f, want %.8f", nu, p, got, want)
			}
		}
	}
}

func TestStudentQuantileIsContinuousWhereTheExpansionTakesOver(t *testing.T) {
	t.Parallel()
	below, above := law.StudentQuantile(1000-1e-9, 0.95), law.StudentQuantile(1000, 0.95)
	if math.Abs(below-above) > 1e-12 {
		t.Errorf("%.15f below, %.15f above", below, above)
	}
}

// For 1, 2 and 4 degrees of freedom the quantile has a closed form (W. T. Shaw,
// J. Comput. Finance 9 (2006) 37-73).
func TestStudentQuantileAgreesWithClosedForms(t *testing.T) {
	t.Parallel()
	for _, p := range []float64{0.5, 0.9, 0.95, 0.99, 0.9973} {
		alpha := (1 - p) * (1 + p)
		want := map[float64]float64{
			1: math.Tan(math.Pi * p / 2),
			2: p * math.Sqrt(2/alpha),
			4: 2 * math.Sqrt(math.Cos(math.Acos(math.Sqrt(alpha))/3)/math.Sqrt(alpha)-1),
		}
		for nu, w := range want {
			if got := law.StudentQuantile(nu, p); math.Abs(got-w) > 1e-13*w {
				t.Errorf("t(%v, %v) = %.16g, want %.16g", nu, p, got, w)
			}
		}
	}
}

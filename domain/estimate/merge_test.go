package estimate

import (
	"bufio"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// NIST Statistical Reference Datasets, univariate: the mean and standard
// deviation of a list keep the digits that a careful algorithm can keep (the
// values near 10^6 and 10^7 have lost some in double precision themselves).
func TestSpreadKeepsCertifiedDigits(t *testing.T) {
	t.Parallel()
	for file, c := range map[string]struct{ mean, sd, tolerance float64 }{
		"nist_mavro.csv":    {2.00185600000000, 0.000429123454003053, 1e-11},
		"nist_michelso.csv": {299.852400000000, 0.0790105478190518, 1e-11},
		"nist_lew.csv":      {-177.435000000000, 277.332168044316, 1e-13},
		"nist_numacc1.csv":  {10000002, 1, 1e-15},
		"nist_numacc2.csv":  {1.2, 0.1, 1e-12},
		"nist_numacc3.csv":  {1000000.2, 0.1, 1e-8},
		"nist_numacc4.csv":  {10000000.2, 0.1, 1e-7},
	} {
		f, err := os.Open("testdata/" + file)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		var values []float64
		for lines := bufio.NewScanner(f); lines.Scan(); {
			fields := strings.Split(lines.Text(), ",")
			if v, err := strconv.ParseFloat(fields[len(fields)-1], 64); err == nil {
				values = append(values, v)
			}
		}
		mean, ss, _ := spread(values)
		sd := math.Sqrt(ss / float64(len(values)-1))
		if math.Abs(mean-c.mean) > 1e-14*math.Abs(c.mean) || math.Abs(sd-c.sd) > c.tolerance*c.sd {
			t.Errorf("%s: mean %.16g, sd %.16g of %d values; want %v, %v", file, mean, sd, len(values), c.mean, c.sd)
		}
	}
}

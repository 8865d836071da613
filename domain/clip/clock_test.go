package clip_test

import (
	"math"
	"testing"

	"delaybook/domain/clip"
)

// Time stamps of MPEG systems are in units of 1/90000 s (ISO/IEC 13818-1, 2.4.3.7);
// the exact rates are those of SMPTE ST 12-1.
func TestFramePeriodNamesTheRate(t *testing.T) {
	t.Parallel()
	stamps := func(period float64, late func(i int) float64) (pts []float64) {
		for i := range 25 {
			pts = append(pts, math.Round(90000*(float64(i)*period+late(i)))/90000)
		}
		return pts
	}
	none := func(int) float64 { return 0 }
	for _, c := range []struct {
		period float64
		late   func(i int) float64
		rate   string
		ok     bool
	}{
		{1001.0 / 30000, none, "30000/1001", true},
		{1001.0 / 60000, none, "60000/1001", true},
		{1.0 / 25, none, "25", true},
		{1.0 / 27, none, "", false},                                                // no customary rate
		{1.0 / 30, func(i int) float64 { return float64(i%2) * 0.004 }, "", false}, // a phone
		{1.0 / 30, func(i int) float64 { return float64(i/10) / 30 }, "30", false}, // frames are missing
	} {
		period, rate, ok := clip.FramePeriod(stamps(c.period, c.late))
		if ok != c.ok || ok && rate.String() != c.rate || math.Abs(period-c.period) > 1e-4 {
			t.Errorf("%v: %v, %s, %v; want %+v", c.period, period, rate, ok, c)
		}
	}
	if period, _, ok := clip.FramePeriod([]float64{1}); period != 0 || ok {
		t.Errorf("one stamp gives %v, %v", period, ok)
	}
}

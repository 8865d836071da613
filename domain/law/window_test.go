package law_test

import (
	"testing"

	"delaybook/domain/law"
)

// Published limits, sound early and late in ms, unsigned. Sources: Rec. ITU-R BT.1359-1 (11/1998)
// considering g), recommends 2 to 5; EBU R37-2007; ATSC IS-191 (2003); Rec. ITU-T J.100 (1990, its
// figures from memory); EN 301 549 clause 6.5.4; film practice as commonly quoted (half a frame at
// 24 per second, and 22 ms); Report ITU-R BS.1204.
var published = map[string]law.Window{
	"detectable":        {Early: 45, Late: 125},
	"acceptable":        {Early: 90, Late: 185},
	"source-selection":  {Early: 25, Late: 100},
	"selection-output":  {Early: 22.5, Late: 30},
	"further-segment":   {Early: 2, Late: 2},
	"r37-stage":         {Early: 5, Late: 15},
	"r37":               {Early: 40, Late: 60},
	"is191-encoder":     {Early: 15, Late: 45},
	"is191-receiver":    {Early: 15, Late: 15},
	"j100":              {Early: 20, Late: 40},
	"en301549":          {Early: 100, Late: 100},
	"half-a-film-frame": {Early: 20.833333, Late: 20.833333},
	"film":              {Early: 22, Late: 22},
	"bs1204":            {Early: 41.666667, Late: 83.333333},
}

// Bounds are inclusive: on the bound is inside, a thousandth beyond is not.
func TestBoundsAreInclusive(t *testing.T) {
	t.Parallel()
	for name, w := range published {
		for _, on := range []float64{w.Early, -w.Late} {
			if !w.Contains(on) || w.Judge(on, 0) != law.Inside || (law.Law{}).Chance(on, w) != 1 {
				t.Errorf("%s: %v is on the bound and must be inside", name, on)
			}
		}
		for _, beyond := range []float64{w.Early + 0.001, -w.Late - 0.001} {
			if w.Contains(beyond) || w.Judge(beyond, 0) != law.Outside || (law.Law{}).Chance(beyond, w) != 0 {
				t.Errorf("%s: %v is beyond the bound and must be outside", name, beyond)
			}
		}
	}
}

// The verdict is by the whole interval.
func TestJudge(t *testing.T) {
	t.Parallel()
	w := published["r37"]
	for _, c := range []struct {
		after, half float64
		want        law.Verdict
	}{
		{-10, 50, law.Inside},
		{-3.8, 43.8, law.Inside},
		{-10, 50.001, law.Undecided},
		{45, 4.999, law.Outside},
		{45, 5, law.Undecided},
		{-65.5, 5, law.Outside},
		{-10, 500, law.Undecided},
	} {
		if got := w.Judge(c.after, c.half); got != c.want {
			t.Errorf("Judge(%v, %v) = %s, want %s", c.after, c.half, got, c.want)
		}
	}
}

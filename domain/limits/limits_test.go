package limits_test

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"delaybook/domain/limits"
	"delaybook/domain/timebase"
)

func mustLimit(tb testing.TB, slug string) limits.Limit {
	tb.Helper()
	l, ok := limits.BySlug(slug)
	if !ok {
		tb.Fatalf("no limit %q", slug)
	}
	return l
}

// slugs maps the rows of the table, by source and limit, to ours; a row that is
// not there must be in leftOut with a reason.
var slugs = map[string]string{
	"detectability (DSIS 4.5)":                               "itu-bt1359-detectable",
	"acceptability (DSIS 3.5); recommends 2 overall":         "itu-bt1359-acceptable",
	"recommends 3 image source to final programme selection": "itu-bt1359-selection",
	"recommends 4 selection output to transmitter input":     "itu-bt1359-transmitter",
	"recommends 5 each other downstream segment":             "itu-bt1359-segment",
	"per stage":                                          "ebu-r37-stage",
	"Table 1 at output for emission":                     "ebu-r37",
	"at DTV encoder inputs":                              "atsc-is191",
	"receiver vs PTS":                                    "atsc-is191-receiver",
	"two-way voice with real-time video":                 "en-301549-voice",
	"half a frame at 24 fps":                             "film-half-frame",
	"film: sound late 2 frames / early 1 frame (24 fps)": "film-itu-bs1204",
	"international programme exchange":                   "itu-j100",
}

var leftOut = map[string]string{
	"either direction": "22 ms is no half frame and no body's text",
	"in sync":          "one experiment, not a limit",
}

// TestPublishedTable checks every bound against the table of published figures,
// whose first column names the documents.
func TestPublishedTable(t *testing.T) {
	t.Parallel()
	f, err := os.Open("testdata/av_sync_limits.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range records[1:] {
		if _, ok := leftOut[row[1]]; ok {
			continue
		}
		l := mustLimit(t, slugs[row[1]])
		early, errE := strconv.ParseFloat(row[2], 64)
		late, errL := strconv.ParseFloat(row[3], 64)
		// The table has six decimals.
		if errors.Join(errE, errL) != nil || math.Abs(l.EarlyMS-early) > 0.5e-6 || math.Abs(l.LateMS+late) > 0.5e-6 {
			t.Errorf("%s is +%v/-%v, want +%s/%s", l.Slug, l.EarlyMS, l.LateMS, row[2], row[3])
		}
	}
	if got := len(limits.Published()); got != len(slugs) || len(records)-1 != len(slugs)+len(leftOut) {
		t.Errorf("%d limits and %d rows, want %d and %d", got, len(records)-1, len(slugs), len(slugs)+len(leftOut))
	}
}

func TestPublishedRowsAreComplete(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, l := range limits.Published() {
		if !regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`).MatchString(l.Slug) || seen[l.Slug] {
			t.Errorf("slug %q is malformed or there twice", l.Slug)
		}
		seen[l.Slug] = true
		if l.Name == "" || l.Source == "" || l.Where == "" || !l.Published || limits.CheckBounds(l.EarlyMS, l.LateMS) != nil {
			t.Errorf("%s is not complete: %+v", l.Slug, l)
		}
	}
	limits.Published()[0].EarlyMS = 999
	if limits.Published()[0].EarlyMS == 999 {
		t.Error("a caller can change the published limits")
	}
	if l := mustLimit(t, limits.Default); l.EarlyMS != 40 || l.LateMS != 60 {
		t.Errorf("the default is +%v/-%v, want +40/-60", l.EarlyMS, l.LateMS)
	}
	if _, ok := limits.BySlug("ebu"); ok {
		t.Error("a limit without a slug of its own is found")
	}
}

// TestBoundsAreInclusive: BT.1359-1 recommends 2 and R37 Table 1.
func TestBoundsAreInclusive(t *testing.T) {
	t.Parallel()
	acceptable, output := mustLimit(t, "itu-bt1359-acceptable"), mustLimit(t, "ebu-r37")
	for _, c := range []struct {
		limit  limits.Limit
		offset float64
		want   bool
	}{
		{acceptable, 90, true},
		{acceptable, 90.001, false},
		{acceptable, -185, true},
		{acceptable, -185.001, false},
		{output, 40, true},
		{output, math.Nextafter(40, 41), false},
		{output, -60, true},
		{output, math.Nextafter(-60, -61), false},
		{output, 0, true},
		{output, math.NaN(), false},
	} {
		if got := c.limit.Contains(c.offset); got != c.want {
			t.Errorf("%s contains %v: %v, want %v", c.limit.Slug, c.offset, got, c.want)
		}
		want := limits.Outside
		if c.want {
			want = limits.Inside
		}
		if math.IsNaN(c.offset) {
			want = limits.Undecided
		}
		if got := c.limit.Judge(c.offset, c.offset); got != want {
			t.Errorf("%s judges the point %v %s, want %s", c.limit.Slug, c.offset, got, want)
		}
	}
}

// signConfusions lists the offsets that a grader treats otherwise than BT.1359-1.
func signConfusions(contains func(limits.Limit, float64) bool, detectable, acceptable limits.Limit) []string {
	var wrong []string
	for _, c := range []struct {
		what   string
		limit  limits.Limit
		offset float64
		want   bool
	}{
		{"+100 is beyond acceptable", acceptable, 100, false},
		{"-100 is acceptable", acceptable, -100, true},
		{"+100 is detectable", detectable, 100, false},
		{"-100 is not detectable", detectable, -100, true},
	} {
		if contains(c.limit, c.offset) != c.want {
			wrong = append(wrong, c.what)
		}
	}
	return wrong
}

// TestEarlyAndLateDiffer also shows that the check would catch graders without a
// sign or with the sign exchanged.
func TestEarlyAndLateDiffer(t *testing.T) {
	t.Parallel()
	detectable, acceptable := mustLimit(t, "itu-bt1359-detectable"), mustLimit(t, "itu-bt1359-acceptable")
	if wrong := signConfusions(limits.Limit.Contains, detectable, acceptable); wrong != nil {
		t.Errorf("wrong under BT.1359-1: %s", strings.Join(wrong, "; "))
	}
	for name, grader := range map[string]func(limits.Limit, float64) bool{
		"no sign, early bound": func(l limits.Limit, x float64) bool { return math.Abs(x) <= l.EarlyMS },
		"no sign, late bound":  func(l limits.Limit, x float64) bool { return math.Abs(x) <= l.LateMS },
		"sign exchanged":       func(l limits.Limit, x float64) bool { return l.Contains(-x) },
	} {
		if signConfusions(grader, detectable, acceptable) == nil {
			t.Errorf("a grader with %s passes the check", name)
		}
	}
	symmetric := map[string]bool{"itu-bt1359-segment": true, "atsc-is191-receiver": true, "en-301549-voice": true, "film-half-frame": true}
	for _, l := range limits.Published() {
		if (l.LateMS > l.EarlyMS) == symmetric[l.Slug] || l.LateMS < l.EarlyMS {
			t.Errorf("%s is +%v/-%v", l.Slug, l.EarlyMS, l.LateMS)
		}
	}
}

func TestLimitsNest(t *testing.T) {
	t.Parallel()
	order := []string{"ebu-r37-stage", "atsc-is191", "ebu-r37", "itu-bt1359-detectable", "itu-bt1359-acceptable"}
	for i := range len(order) - 1 {
		inner, outer := mustLimit(t, order[i]), mustLimit(t, order[i+1])
		if !(inner.EarlyMS < outer.EarlyMS && inner.LateMS < outer.LateMS) || outer.Judge(-inner.LateMS, inner.EarlyMS) != limits.Inside {
			t.Errorf("%s is not inside %s", inner.Slug, outer.Slug)
		}
	}
}

func TestStagesAddUpToTheOutput(t *testing.T) {
	t.Parallel()
	stage, output := mustLimit(t, "ebu-r37-stage"), mustLimit(t, "ebu-r37")
	if 8*stage.EarlyMS != output.EarlyMS || 4*stage.LateMS != output.LateMS {
		t.Error("R37: eight stages early and four late should reach the output's limit")
	}
	detectable, acceptable := mustLimit(t, "itu-bt1359-detectable"), mustLimit(t, "itu-bt1359-acceptable")
	if acceptable.EarlyMS-detectable.EarlyMS != 45 || acceptable.LateMS-detectable.LateMS != 60 {
		t.Error("BT.1359-1 Appendix 1, 3: detectable to acceptable is 45 ms early and 60 ms late")
	}
}

func TestJudgeIntervals(t *testing.T) {
	t.Parallel()
	l := mustLimit(t, "ebu-r37")
	for _, c := range []struct {
		lo, hi float64
		want   limits.Verdict
	}{
		{-60, 40, limits.Inside},
		{-10, 10, limits.Inside},
		{-60.001, 40, limits.Undecided},
		{-60, 40.001, limits.Undecided},
		{30, 50, limits.Undecided},
		{-100, 100, limits.Undecided},
		{40, 50, limits.Undecided}, // touches from outside: 40 itself is inside
		{-70, -60, limits.Undecided},
		{40.001, 50, limits.Outside},
		{-70, -60.001, limits.Outside},
		{math.Inf(-1), math.Inf(1), limits.Undecided},
		{41, math.Inf(1), limits.Outside},
		{10, -10, limits.Undecided},
		{math.NaN(), 10, limits.Undecided},
		{0, math.NaN(), limits.Undecided},
	} {
		if got := l.Judge(c.lo, c.hi); got != c.want {
			t.Errorf("Judge(%v, %v) = %s, want %s", c.lo, c.hi, got, c.want)
		}
	}
}

func TestCheckBounds(t *testing.T) {
	t.Parallel()
	for _, c := range [][2]float64{{40, 60}, {0, 1}, {1, 0}, {limits.MaxMS, limits.MaxMS}} {
		if err := limits.CheckBounds(c[0], c[1]); err != nil {
			t.Errorf("+%v/-%v: %v", c[0], c[1], err)
		}
	}
	for _, c := range []struct {
		early, late  float64
		detail, send string
	}{
		{40, -60, "late", "60"},
		{-5, 15, "early", "5"},
		{math.NaN(), 15, "early", "0 to 10000"},
		{40, math.Inf(1), "late", "0 to 10000"},
		{40, 10_000.1, "late", "0 to 10000"},
		{-20_000, 1, "early", "0 to 10000"},
		{0, 0, "never", "positive"},
	} {
		e, ok := errors.AsType[*timebase.InputError](limits.CheckBounds(c.early, c.late))
		if !ok || !strings.Contains(e.Detail, c.detail) || !strings.Contains(e.Send, c.send) {
			t.Errorf("+%v/-%v: %v, want %q and %q", c.early, c.late, e, c.detail, c.send)
		}
	}
}

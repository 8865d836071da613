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

	"delaybook/domain/law"
	"delaybook/domain/limits"
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

// signConfusions lists the offsets that a grader treats otherwise than BT.1359-1.
func signConfusions(contains func(law.Window, float64) bool, detectable, acceptable limits.Limit) []string {
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
		if contains(c.limit.Window(), c.offset) != c.want {
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
	if wrong := signConfusions(law.Window.Contains, detectable, acceptable); wrong != nil {
		t.Errorf("wrong under BT.1359-1: %s", strings.Join(wrong, "; "))
	}
	for name, grader := range map[string]func(law.Window, float64) bool{
		"no sign, early bound": func(w law.Window, x float64) bool { return math.Abs(x) <= w.Early },
		"no sign, late bound":  func(w law.Window, x float64) bool { return math.Abs(x) <= w.Late },
		"sign exchanged":       func(w law.Window, x float64) bool { return w.Contains(-x) },
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
		if !(inner.EarlyMS < outer.EarlyMS && inner.LateMS < outer.LateMS) {
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

func TestCheckBounds(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		early, late         float64
		bound, detail, send string
	}{
		{40, -60, "late", "without a sign", "60"},
		{-5, 15, "early", "without a sign", "5"},
		{math.NaN(), 15, "early", "positive", "0 to 10000"},
		{40, math.Inf(1), "late", "positive", "0 to 10000"},
		{40, 10_000.1, "late", "positive", "0 to 10000"},
		{-20_000, 1, "early", "positive", "0 to 10000"},
		{0, 0, "early", "never", "positive"},
	} {
		got := limits.CheckBounds(c.early, c.late)
		if len(got) != 1 || got[0].Bound != c.bound || !strings.Contains(got[0].Detail, c.detail) || !strings.Contains(got[0].Send, c.send) {
			t.Errorf("+%v/-%v: %v, want %s, %q and %q", c.early, c.late, got, c.bound, c.detail, c.send)
		}
	}
	for _, c := range [][2]float64{{40, 60}, {0, 1}, {1, 0}, {limits.MaxMS, limits.MaxMS}} {
		if got := limits.CheckBounds(c[0], c[1]); got != nil {
			t.Errorf("+%v/-%v: %v", c[0], c[1], got)
		}
	}
	if got := limits.CheckBounds(-1, -1); len(got) != 2 {
		t.Errorf("two faults: %v", got)
	}
}

package wording_test

import (
	"strings"
	"testing"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/timebase"

	"github.com/shopspring/decimal"
)

// Frames at 30000/1001 a second last 1001/30 = 33.3667 ms.
func TestAnOffsetHasADirectionAndASizeAndNeverASign(t *testing.T) {
	t.Parallel()
	rate, err := timebase.ParseRate("29.97")
	if err != nil {
		t.Fatal(err)
	}
	for ms, want := range map[float64]string{
		166.8333: "sound early 5 frames (166.8 ms)",
		-166.833: "sound late 5 frames (166.8 ms)",
		33.3667:  "sound early 1 frame (33.4 ms)",
		-50.05:   "sound late 1.5 frames (50.0 ms)",
		0.04:     "in sync",
		-0.04:    "in sync",
		0.06:     "sound early 0 frames (0.1 ms)",
	} {
		got := wording.Offset(ms, rate)
		if got != want {
			t.Errorf("%v ms: got %q, want %q", ms, got, want)
		}
		if strings.ContainsAny(got, "+-\u2212") {
			t.Errorf("%v ms: %q has a sign", ms, got)
		}
	}
}

func TestOfTwoSoundsOneSaysWhichCameFirst(t *testing.T) {
	t.Parallel()
	m := &domain.Measurement{First: "hand", FirstSig: domain.Sound, Second: "lectern", SecondSig: domain.Sound}
	for ms, want := range map[float64]string{
		3: "hand after lectern by 3.0 ms", -3: "hand before lectern by 3.0 ms", 0: "hand together with lectern",
	} {
		if got := wording.Comparison(m, ms); got != want {
			t.Errorf("%v ms: got %q, want %q", ms, got, want)
		}
	}
}

// A chance is never said to be better than it is, and never certain.
func TestAChanceIsRoundedDown(t *testing.T) {
	t.Parallel()
	for chance, want := range map[float64]string{
		1: "over 99.9 %", 0.9995: "over 99.9 %", 0.9989: "99.8 %", 0.99: "99.0 %", 0.9899: "98 %", 0.5: "50 %",
		0.0199: "1 %", 0.0099: "under 1 %", 0: "under 1 %",
	} {
		if got := wording.Chance(chance); got != want {
			t.Errorf("%v: got %q, want %q", chance, got, want)
		}
	}
}

func TestAnAmountHasItsUnit(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		value, want string
		unit        domain.ControlUnit
	}{
		{"5", "5 frames", domain.UnitFrame},
		{"1", "1 frame", domain.UnitFrame},
		{"0", "0 frames", domain.UnitFrame},
		{"1.0", "1 frame", domain.UnitFrame},
		{"4.5", "4.5 ms", domain.UnitMS},
		{"480", "480 samples", domain.UnitSample},
	} {
		if got := wording.Amount(decimal.RequireFromString(c.value), c.unit); got != c.want {
			t.Errorf("%s: got %q, want %q", c.value, got, c.want)
		}
	}
}

func TestTheCautionsAreSentences(t *testing.T) {
	t.Parallel()
	list := wording.CautionList()
	if len(list) < 5 {
		t.Fatalf("only %d", len(list))
	}
	for _, s := range list {
		if !strings.HasSuffix(strings.TrimSpace(s), ".") || len(s) < 20 {
			t.Errorf("not a sentence: %q", s)
		}
	}
}

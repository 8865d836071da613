package timebase_test

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"delaybook/domain/timebase"
)

func TestParseRateReadsEveryCustomaryForm(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ in, text, label string }{
		{"23.976", "24000/1001", "23.976"},
		{"23.98", "24000/1001", "23.976"},
		{"29.97", "30000/1001", "29.97"},
		{"47.95", "48000/1001", "47.952"},
		{"47.952", "48000/1001", "47.952"},
		{"59.94", "60000/1001", "59.94"},
		{"119.88", "120000/1001", "119.88"},
		{"30000/1001", "30000/1001", "29.97"},
		{"60000/2002", "30000/1001", "29.97"},
		{"25", "25", "25"},
		{"50/2", "25", "25"},
		{"25.0", "25", "25"},
		{"29.970", "30000/1001", "29.97"},
		{" 25\n", "25", "25"},
		{"15000/1001", "15000/1001", "15000/1001"},
		{"25/2", "25/2", "25/2"},
		{"1", "1", "1"},
		{"1000", "1000", "1000"},
	} {
		r, err := timebase.ParseRate(c.in)
		if err != nil || r.String() != c.text || r.Label() != c.label {
			t.Errorf("ParseRate(%q) = %q, label %q, %v; want %q, %q", c.in, r, r.Label(), err, c.text, c.label)
		}
	}
}

// refused checks that an error is an *InputError that sends something.
func refused(t *testing.T, in string, err error, send string) {
	t.Helper()
	e, ok := errors.AsType[*timebase.InputError](err)
	if !ok {
		t.Errorf("%q: error %v, want an *InputError", in, err)
		return
	}
	if !strings.Contains(e.Send, send) || e.Detail == "" {
		t.Errorf("%q: detail %q, send %q; want it to send %q", in, e.Detail, e.Send, send)
	}
}

func TestParseRateRefusesAndSaysWhatToSend(t *testing.T) {
	t.Parallel()
	for in, send := range map[string]string{
		"29.976":                         `"30000/1001" or "29.97"`,
		"29.98":                          `"30000/1001" or "29.97"`,
		"29.97002997":                    `"30000/1001" or "29.97"`,
		"23.97":                          `"24000/1001" or "23.976"`,
		"99.5":                           `"199/2"`,
		"29.9":                           `"30000/1001" or "29.97", or "30"`,
		"59.9":                           `"60000/1001" or "59.94"`,
		"119.9":                          `"120000/1001" or "119.88"`,
		"12.5":                           `"25/2"`,
		"29.999":                         `"30000/1001" or "29.97", or "30"`,
		"":                               `"25"`,
		"x":                              `"25"`,
		"-25":                            `"25"`,
		"+25":                            `"25"`,
		"25.":                            `"25"`,
		".97":                            `"25"`,
		"3e1":                            `"25"`,
		"0x1e":                           `"25"`,
		"2_5":                            `"25"`,
		"29,97":                          `"29.97"`,
		"NaN":                            `"25"`,
		"Inf":                            `"25"`,
		"30000 / 1001":                   `"30000/1001"`,
		"30000/1001/1":                   `"30000/1001"`,
		"30000/":                         `"30000/1001"`,
		"/1001":                          `"30000/1001"`,
		"0":                              `"30000/1001"`,
		"1/0":                            `"30000/1001"`,
		"0.5":                            `"25"`,
		"1/2":                            `"25"`,
		"1001":                           `"25"`,
		"48000":                          `"30000/1001"`,
		"99999999999999999999":           `"25"`,
		"1/99999999999999999999":         `"25"`,
		"1000000007/1000000006":          `"30000/1001"`,
		"29.9" + strings.Repeat("9", 99): `"25"`,
	} {
		r, err := timebase.ParseRate(in)
		if !r.IsZero() {
			t.Errorf("ParseRate(%q) = %v beside an error", in, r)
		}
		refused(t, in, err, send)
	}
}

func TestNewRateRefusesNegativeTerms(t *testing.T) {
	t.Parallel()
	for _, c := range [][2]int64{{-25, 1}, {25, -1}, {-25, -1}, {0, 1}, {math.MinInt64, math.MinInt64}, {math.MaxInt64, 1}} {
		_, err := timebase.NewRate(c[0], c[1])
		refused(t, "terms", err, "30000/1001")
	}
	if r, err := timebase.NewRate(25*1_000_000_000_000, 1_000_000_000_000); err != nil || r.String() != "25" {
		t.Errorf("25 over huge terms = %v, %v; want 25", r, err)
	}
}

func TestRateJSONTakesTheLiteralOfANumber(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		`29.97`: "30000/1001", `"29.97"`: "30000/1001", `"30000/1001"`: "30000/1001",
		`25`: "25", `25.0`: "25", `23.98`: "24000/1001",
	} {
		var got timebase.Rate
		if err := json.Unmarshal([]byte(in), &got); err != nil || got.String() != want {
			t.Errorf("%s reads as %v, %v; want %s", in, got, err, want)
		}
		out, err := json.Marshal(got)
		if err != nil || string(out) != `"`+want+`"` {
			t.Errorf("%s writes %s, %v; want a string %s", in, out, err, want)
		}
	}
	for _, in := range []string{`29.96`, `2.997e1`, `true`, `{}`, `[25]`, `""`, `-25`} {
		var got timebase.Rate
		refused(t, in, json.Unmarshal([]byte(in), &got), `"`)
	}
	kept := mustRate(t, "25")
	if err := json.Unmarshal([]byte("null"), &kept); err != nil || kept.String() != "25" {
		t.Errorf("null made %v of 25, %v", kept, err)
	}
}

func TestRateInStructsAndMaps(t *testing.T) {
	t.Parallel()
	var in struct {
		Rate timebase.Rate         `json:"rate,omitzero"`
		By   map[timebase.Rate]int `json:"by,omitempty"`
	}
	if out, err := json.Marshal(in); err != nil || string(out) != "{}" {
		t.Errorf("the zero rate writes %s, %v; want it left out", out, err)
	}
	if err := json.Unmarshal([]byte(`{"rate":59.94,"by":{"29.97":1}}`), &in); err != nil {
		t.Fatal(err)
	}
	if in.Rate != mustRate(t, "59.94") || in.By[mustRate(t, "29.97")] != 1 {
		t.Errorf("read %+v", in)
	}
	if _, err := json.Marshal(timebase.Rate{}); err == nil {
		t.Error("the zero rate is written without an error")
	}
}

func TestRateCmpAndFloat(t *testing.T) {
	t.Parallel()
	slow, fast := mustRate(t, "29.97"), mustRate(t, "30")
	if slow.Cmp(fast) != -1 || fast.Cmp(slow) != 1 || slow.Cmp(slow) != 0 {
		t.Error("29.97 does not sort before 30")
	}
	if slow.Num() != 30000 || slow.Den() != 1001 || slow.Float() != 30000.0/1001 || slow.Rat().RatString() != "30000/1001" {
		t.Errorf("29.97 is %d/%d, %v", slow.Num(), slow.Den(), slow.Float())
	}
}

func TestTheDecimalIsOnePartInAMillionOff(t *testing.T) {
	t.Parallel()
	// 29.97 * 1001/30000 = 0.999999 exactly, so an hour differs by 3.6 ms.
	got := mustRat(t, "29.97")
	got.Quo(got, mustRate(t, "29.97").Rat())
	if got.Cmp(mustRat(t, "0.999999")) != 0 {
		t.Errorf("29.97 over the rate is %s, want 0.999999", got.FloatString(9))
	}
}

func FuzzParseRate(f *testing.F) {
	for _, s := range []string{"29.97", "25", "60000/2002", "12.5", "x", "1/0", "-1", "25.0", "1e9", "9/9", " 25 ", "29.970029970"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		r, err := timebase.ParseRate(s)
		if err != nil {
			if !r.IsZero() {
				t.Errorf("ParseRate(%q) = %v beside %v", s, r, err)
			}
			refused(t, s, err, `"`)
			return
		}
		for _, text := range []string{r.String(), r.Label()} {
			if again, err := timebase.ParseRate(text); err != nil || again != r {
				t.Errorf("%q is %v, but %q is %v, %v", s, r, text, again, err)
			}
		}
		if ms := r.FrameMS(); !(ms >= 1 && ms <= 1000) {
			t.Errorf("a frame at %v lasts %v ms, want 1 to 1000", r, ms)
		}
	})
}

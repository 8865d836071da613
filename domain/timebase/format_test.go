package timebase_test

import (
	"errors"
	"strings"
	"testing"

	"delaybook/domain/timebase"
)

func TestParseFormat(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		in, name string
		lines    int
		scan     timebase.Scan
		rate     string
	}{
		{"1080i59.94", "1080i59.94", 1080, timebase.Interlaced, "30000/1001"},
		{"1080i50", "1080i50", 1080, timebase.Interlaced, "25"},
		{"1080i60", "1080i60", 1080, timebase.Interlaced, "30"},
		{"1080i60000/1001", "1080i59.94", 1080, timebase.Interlaced, "30000/1001"},
		{"1080i48", "1080i48", 1080, timebase.Interlaced, "24"},
		{"576i/50", "576i50", 576, timebase.Interlaced, "25"},
		{"1080I59.94", "1080i59.94", 1080, timebase.Interlaced, "30000/1001"},
		{"1080p29.97", "1080p29.97", 1080, timebase.Progressive, "30000/1001"},
		{"1080p59.94", "1080p59.94", 1080, timebase.Progressive, "60000/1001"},
		{"2160p50", "2160p50", 2160, timebase.Progressive, "50"},
		{"720p60", "720p60", 720, timebase.Progressive, "60"},
		{"1080p23.98", "1080p23.976", 1080, timebase.Progressive, "24000/1001"},
		{"1080PsF25", "1080PsF25", 1080, timebase.PsF, "25"},
		{" 1080psf29.97", "1080PsF29.97", 1080, timebase.PsF, "30000/1001"},
		{"1080p15000/1001", "1080p15000/1001", 1080, timebase.Progressive, "15000/1001"},
	} {
		want := timebase.Format{Lines: c.lines, Scan: c.scan, Rate: mustRate(t, c.rate)}
		got, err := timebase.ParseFormat(c.in)
		if err != nil || got != want || got.String() != c.name {
			t.Errorf("ParseFormat(%q) = %+v %q, %v; want %+v %q", c.in, got, got, err, want, c.name)
		}
		if again, err := timebase.ParseFormat(got.String()); err != nil || again != got {
			t.Errorf("%q reads back as %v, %v", got, again, err)
		}
	}
}

func TestParseFormatRefuses(t *testing.T) {
	t.Parallel()
	for in, send := range map[string]string{
		"1080i29.97":                       `"1080i59.94" if there are 29.97`,
		"1080i25":                          `"1080i50" if there are 25`,
		"1080i30":                          `"1080i60" if there are 30`,
		"1080i119.88":                      `"p"`,
		"1080i1":                           `"1080i2"`,
		"1080i40":                          "29.97 frames",
		"1080PsF50":                        `"25"`,
		"1080PsF59.94":                     `"30000/1001"`,
		"1080p29.9":                        `"29.97"`,
		"1080":                             "1080p29.97",
		"1080p":                            "1080p29.97",
		"p50":                              "1080p29.97",
		"":                                 "1080p29.97",
		"1080x50":                          "1080p29.97",
		"10p50":                            "1080p29.97",
		"99999999999999999999p50":          "1080p29.97",
		"1080p 50 50":                      "29.97",
		"1080P" + "\u00e9" + "25.":         "29.97",
		"1080i" + strings.Repeat("9", 200): "",
	} {
		got, err := timebase.ParseFormat(in)
		if !got.IsZero() {
			t.Errorf("ParseFormat(%q) = %v beside an error", in, got)
		}
		refused(t, in, err, send)
	}
}

func TestCheckScan(t *testing.T) {
	t.Parallel()
	const p, i, psf = timebase.Progressive, timebase.Interlaced, timebase.PsF
	for _, c := range []struct {
		scan       timebase.Scan
		rate, hint string // no hint: allowed
	}{
		{p, "59.94", ""},
		{p, "50", ""},
		{p, "120", ""},
		{p, "12", ""},
		{p, "47.952", ""},
		{i, "29.97", ""},
		{i, "25", ""},
		{i, "30", ""},
		{i, "24", ""},
		{i, "23.976", ""},
		{psf, "23.976", ""},
		{psf, "25", ""},
		{psf, "29.97", ""},
		{psf, "30", ""},
		{i, "59.94", "1080i59.94 is 29.97 frames"},
		{i, "60000/1001", "1080i59.94 is 29.97 frames"},
		{i, "50", "1080i50 is 25 frames"},
		{i, "60", "1080i60 is 30 frames"},
		{i, "119.88", "1080i59.94 is 29.97 frames"},
		{i, "15000/1001", "1080i59.94 is 29.97 frames"}, // 29.97 halved again
		{i, "25/2", "1080i59.94 is 29.97 frames"},
		{psf, "50", "1080PsF25 is 25 frames"},
		{psf, "59.94", "1080PsF29.97 is 29.97 frames"},
	} {
		err := timebase.CheckScan(c.scan, mustRate(t, c.rate))
		if (err == nil) != (c.hint == "") || (err != nil && !strings.Contains(err.Error(), c.hint)) {
			t.Errorf("CheckScan(%s, %s) = %v, want %q", c.scan, c.rate, err, c.hint)
		}
	}
	refused(t, "no rate", timebase.CheckScan(p, timebase.Rate{}), "25")
	refused(t, "no scan", timebase.CheckScan("", mustRate(t, "25")), `"progressive"`)
}

func TestCheckFormatComparesTheThreeFieldsOfAMode(t *testing.T) {
	t.Parallel()
	f, err := timebase.ParseFormat("1080i59.94")
	if err != nil {
		t.Fatal(err)
	}
	if err := timebase.CheckFormat(f, timebase.Interlaced, mustRate(t, "29.97")); err != nil {
		t.Errorf("29.97 interlaced: %v", err)
	}
	for _, c := range []struct {
		scan timebase.Scan
		rate string
		want string
	}{
		{timebase.Interlaced, "59.94", "1080i59.94 is 29.97 frames"},
		{timebase.Interlaced, "25", `send "30000/1001"`},
		{timebase.Progressive, "29.97", `send "interlaced"`},
	} {
		err := timebase.CheckFormat(f, c.scan, mustRate(t, c.rate))
		if _, ok := errors.AsType[*timebase.InputError](err); !ok || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s at %s: %v, want %q", c.scan, c.rate, err, c.want)
		}
	}
}

func TestParseScan(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]timebase.Scan{"progressive": timebase.Progressive, "Interlaced": timebase.Interlaced, "PsF": timebase.PsF} {
		if got, err := timebase.ParseScan(in); err != nil || got != want {
			t.Errorf("ParseScan(%q) = %q, %v", in, got, err)
		}
	}
	for _, in := range []string{"", "i", "p"} {
		_, err := timebase.ParseScan(in)
		refused(t, in, err, `"progressive"`)
	}
}

func FuzzParseFormat(f *testing.F) {
	for _, s := range []string{"1080i59.94", "1080p29.97", "1080PsF25", "1080i25", "576i/50", "1080p", "i50", "1080i48000/1001"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := timebase.ParseFormat(s)
		if err != nil {
			refused(t, s, err, "")
			return
		}
		if again, err := timebase.ParseFormat(got.String()); err != nil || again != got {
			t.Errorf("%q is %v, which reads back as %v, %v", s, got, again, err)
		}
		if err := timebase.CheckFormat(got, got.Scan, got.Rate); err != nil {
			t.Errorf("%q contradicts itself: %v", s, err)
		}
	})
}

package convert_test

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"math/big"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"delaybook/domain/convert"
)

func mustConvert(tb testing.TB, q convert.Query) convert.Result {
	tb.Helper()
	r, err := convert.Convert(q)
	if err != nil {
		tb.Fatalf("%+v: %v", q, err)
	}
	return r
}

// TestFiveFramesAt2997 is the remedy of sound that is 166.833 ms early: delay it by
// as much, 1001/6 ms, which is 8008 samples at 48 kHz. The distance is
// 343.2 * 1.001/6 m by ISO 9613-1:1993.
func TestFiveFramesAt2997(t *testing.T) {
	t.Parallel()
	got, err := json.Marshal(mustConvert(t, convert.Query{Frames: "5", Rate: "29.97"}))
	if err != nil {
		t.Fatal(err)
	}
	want := `{"ms":166.83333333333334,"ms_exact":"1001/6",` +
		`"frames":{"rate":"30000/1001","label":"29.97","frame_ms":33.36666666666667,"value":5,"exact":"5",` +
		`"nearest_half":5,"nearest":5,"nearest_ms":166.83333333333334,"cycle_frames":5,"cycle_samples":8008},` +
		`"samples":{"sample_rate":48000,"value":8008,"exact":"8008","nearest":8008,"nearest_ms":166.83333333333334}`
	if air, ok := strings.CutPrefix(string(got), want); !ok {
		t.Errorf("got  %s\nwant %s", got, want)
	} else if !strings.HasPrefix(air, `,"air":{"air_c":20,"speed_m_s":343.2,"metres":57.257`) { // 57.2572
		t.Errorf("air is %s", air)
	}
}

// TestEveryUnitLeadsToTheSameDelay goes from one row of the table to the others
// by every amount, over the frames of ITU-R BT.709-6 and BT.2020-2 in exact
// arithmetic done elsewhere.
func TestEveryUnitLeadsToTheSameDelay(t *testing.T) {
	t.Parallel()
	f, err := os.Open("../timebase/testdata/frames_to_ms.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil || len(records) < 200 {
		t.Fatalf("%d rows, %v", len(records), err)
	}
	for _, row := range records[1:] {
		rate, frames, ms, samples := row[0], row[1], row[2], row[4]
		want := mustConvert(t, convert.Query{Frames: frames, Rate: rate})
		if want.MSExact != ms || want.Frames.Exact != frames || want.Samples.Exact != samples {
			t.Errorf("%s frames at %s = %s ms, %s samples; want %s, %s", frames, rate, want.MSExact, want.Samples.Exact, ms, samples)
		}
		for _, q := range []convert.Query{{MS: ms, Rate: rate}, {Samples: samples, Rate: rate}} {
			if diff := cmp.Diff(want, mustConvert(t, q), cmp.Comparer(sameResult)); diff != "" {
				t.Errorf("%+v: %s", q, diff)
			}
		}
	}
}

func sameResult(a, b convert.Result) bool {
	return a.MS == b.MS && a.MSExact == b.MSExact && *a.Frames == *b.Frames && *a.Samples == *b.Samples && *a.Air == *b.Air
}

func TestFractionsOfFramesAndSamples(t *testing.T) {
	t.Parallel()
	one := mustConvert(t, convert.Query{Frames: "1", Rate: "30000/1001"})
	if one.Samples.Exact != "8008/5" || one.Samples.Value != 1601.6 || one.Samples.Nearest != 1602 {
		t.Errorf("a frame at 29.97 is %+v, want 8008/5 samples", one.Samples)
	}
	// Claps read 5, 7 and 6.5 frames early: 6.1667 frames are 205.76 ms, nearest 6.
	claps := mustConvert(t, convert.Query{Frames: "37/6", Rate: "29.97"})
	if claps.MSExact != "37037/180" || claps.Frames.Nearest != 6 || claps.Frames.NearestHalf != 6 || claps.Frames.NearestMS != 200.2 {
		t.Errorf("37/6 frames are %+v %+v, want 37037/180 ms near 6 frames, 200.2 ms", claps, claps.Frames)
	}
	late := mustConvert(t, convert.Query{MS: "-60", Rate: "25"})
	if late.Frames.Value != -1.5 || late.Frames.NearestHalf != -1.5 || late.Frames.Nearest != -2 || late.Samples.Nearest != -2880 {
		t.Errorf("-60 ms are %+v %+v", late.Frames, late.Samples)
	}
	plain := mustConvert(t, convert.Query{MS: "10", SampleRate: "44100"})
	if plain.Frames != nil || plain.Samples.Exact != "441" || plain.MS != 10 {
		t.Errorf("10 ms are %+v, %+v; want 441 samples and no frames", plain, plain.Samples)
	}
}

// TestDistances: ISO 9613-1:1993 worked by hand, 10 m at 20 degC = 29.1375 ms,
// 30 ft = 26.6434 ms, 34.32 m = 100 ms.
func TestDistances(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		q    convert.Query
		ms   float64
		last float64
	}{
		{convert.Query{Metres: "10"}, 29.1375, 1e-4},
		{convert.Query{Feet: "30"}, 26.6434, 1e-4},
		{convert.Query{Metres: "34.32", AirC: "20"}, 100, 1e-9},
		{convert.Query{Metres: "1", AirC: "-10"}, 3.075360, 1e-6},
		{convert.Query{Metres: "0"}, 0, 1e-12},
	} {
		got := mustConvert(t, c.q)
		if math.Abs(got.MS-c.ms) > c.last/2 || got.MSExact != "" || got.Samples.Exact != "" {
			t.Errorf("%+v = %v ms %q, want %v and no exact form", c.q, got.MS, got.MSExact, c.ms)
		}
		if back := mustConvert(t, convert.Query{MS: new(big.Rat).SetFloat64(got.MS).FloatString(18), AirC: c.q.AirC}); math.Abs(back.Air.Metres-got.Air.Metres) > 1e-13 {
			t.Errorf("%+v comes back as %v m, want %v", c.q, back.Air.Metres, got.Air.Metres)
		}
	}
	feet := mustConvert(t, convert.Query{Feet: "30", Rate: "25"})
	if math.Abs(feet.Air.Metres-9.144) > 1e-12 || math.Abs(feet.Air.Feet-30) > 1e-12 || feet.Frames.Exact != "" || feet.Frames.Nearest != 1 {
		t.Errorf("30 ft are %+v, %+v; want 9.144 m", feet.Air, feet.Frames)
	}
}

func TestConvertSaysWhatToSend(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		q    convert.Query
		want []string // field=send
	}{
		{convert.Query{}, []string{"ms=frames (with rate)"}},
		{convert.Query{Rate: "29.97"}, []string{"ms=frames (with rate)"}},
		{convert.Query{Frames: "5"}, []string{`rate="29.97"`}},
		{convert.Query{Frames: "5", MS: "3", Feet: "1", Rate: "25"}, []string{"ms=one of frames or ms or feet", "feet=one of"}},
		{convert.Query{Frames: "5", Rate: "29.98"}, []string{`rate="30000/1001" or "29.97"`}},
		{convert.Query{Frames: "x", Rate: "25"}, []string{`frames="166.83"`}},
		{convert.Query{MS: "166,83"}, []string{`ms="166.83"`}},
		{convert.Query{MS: "1/0"}, []string{`ms="1001/6"`}},
		{convert.Query{MS: "1e9"}, []string{`ms="1001/6"`}},
		{convert.Query{MS: "NaN"}, []string{`ms="1001/6"`}},
		{convert.Query{MS: "0x10"}, []string{`ms="1001/6"`}},
		{convert.Query{MS: strings.Repeat("9", 200)}, []string{`ms="1001/6"`}},
		{convert.Query{MS: "1000000000.1"}, []string{"ms=at most 1000000000 ms"}},
		{convert.Query{Samples: "-48000000000001"}, []string{"samples=at most 1000000000 ms"}},
		{convert.Query{Frames: "999999999999999999", Rate: "1"}, []string{"frames=at most 1000000000 ms"}},
		{convert.Query{Metres: "-3"}, []string{`metres="3"`}},
		{convert.Query{Metres: "10001"}, []string{"metres=at most 10000 metres"}},
		{convert.Query{Feet: "33000"}, []string{"feet=at most 32808 feet"}},
		{convert.Query{Metres: "1", AirC: "72"}, []string{"air_c=degrees Celsius: 72 degrees Fahrenheit are 22.2"}},
		{convert.Query{Metres: "1", AirC: "warm"}, []string{"air_c=a decimal"}},
		{convert.Query{MS: "1", SampleRate: "48k"}, []string{`sample_rate="48000"`}},
		{convert.Query{MS: "x", Rate: "12.5", SampleRate: "1", AirC: "99999"}, []string{"rate=the fraction", "sample_rate=a whole", "air_c=degrees", "ms=a decimal"}},
		{convert.Query{MS: "166.8.3"}, []string{`ms="1001/6"`}},
	} {
		got, err := convert.Convert(c.q)
		bad, ok := errors.AsType[convert.Errors](err)
		if !ok || len(bad) != len(c.want) || got != (convert.Result{}) {
			t.Errorf("%+v: %+v, %v; want %d faults", c.q, got, err, len(c.want))
			continue
		}
		for i, want := range c.want {
			field, send, _ := strings.Cut(want, "=")
			if bad[i].Field != field || !strings.Contains(bad[i].Send, send) || bad[i].Detail == "" {
				t.Errorf("%+v: fault %+v, want %s to send %q", c.q, bad[i], field, send)
			}
		}
	}
}

func TestErrorsReadAsLines(t *testing.T) {
	t.Parallel()
	_, err := convert.Convert(convert.Query{Frames: "5", Rate: "29.98", AirC: "72"})
	want := `rate: "29.98": this decimal is not an exact frame rate; send "30000/1001" or "29.97"
air_c: "72": the air temperature is out of range; send degrees Celsius: 72 degrees Fahrenheit are 22.2`
	if err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
}

func FuzzConvert(f *testing.F) {
	f.Add("5", "29.97", "48000", "20", uint8(0))
	f.Add("1001/6", "", "", "", uint8(1))
	f.Add("8008/5", "23.98", "44100", "-40", uint8(2))
	f.Add("-1", "x", "48k", "72", uint8(3))
	f.Add("33000", "25", "", "1/0", uint8(4))
	f.Fuzz(func(t *testing.T, amount, rate, sampleRate, celsius string, kind uint8) {
		q := convert.Query{Rate: rate, SampleRate: sampleRate, AirC: celsius}
		*[]*string{&q.Frames, &q.MS, &q.Samples, &q.Metres, &q.Feet}[kind%5] = amount
		got, err := convert.Convert(q)
		if err != nil {
			if bad, ok := errors.AsType[convert.Errors](err); !ok || len(bad) == 0 {
				t.Errorf("%+v: %v is not Errors", q, err)
			}
			return
		}
		if !(math.Abs(got.MS) <= convert.MaxMS) || got.Samples == nil || got.Air == nil || (got.Frames == nil) != (rate == "") {
			t.Errorf("%+v = %+v", q, got)
		}
		if _, err := json.Marshal(got); err != nil {
			t.Errorf("%+v does not fit JSON: %v", q, err)
		}
		if half := 500 / float64(got.Samples.SampleRate.Hz()); math.Abs(got.Samples.NearestMS-got.MS) > half*1.001+math.Abs(got.MS)*1e-15 {
			t.Errorf("%+v: the nearest sample is %v ms from %v", q, got.Samples.NearestMS-got.MS, got.MS)
		}
	})
}

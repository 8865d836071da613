package timebase_test

import (
	"encoding/json"
	"testing"

	"delaybook/domain/timebase"
)

func TestParseSampleRate(t *testing.T) {
	t.Parallel()
	for _, in := range []string{"8000", "44100", "48000", "768000"} {
		s, err := timebase.ParseSampleRate(in)
		if err != nil || s.String() != in {
			t.Errorf("ParseSampleRate(%q) = %v, %v", in, s, err)
		}
	}
	for in, send := range map[string]string{
		"48k": `"48000"`, "44.1k": `"44100"`, "44.1 kHz": `"44100"`, "96000 Hz": `"96000"`, "48000.0": `"48000"`,
		"44.1": `"44100"`, "48": `"48000"`, "": `"48000"`, "x": `"48000"`, "-48000": `"48000"`, "0": `"48000"`,
		"7999": `"48000"`, "768001": `"48000"`, "30000/1001": `"48000"`, "99999999999999999999": `"48000"`,
		"NaN": `"48000"`, "Inf": `"48000"`,
	} {
		s, err := timebase.ParseSampleRate(in)
		if !s.IsZero() {
			t.Errorf("ParseSampleRate(%q) = %v beside an error", in, s)
		}
		refused(t, in, err, send)
	}
}

func TestSampleRateJSON(t *testing.T) {
	t.Parallel()
	for _, in := range []string{`48000`, `"48000"`} {
		var s timebase.SampleRate
		if err := json.Unmarshal([]byte(in), &s); err != nil || s.Hz() != 48000 {
			t.Errorf("%s reads as %v, %v", in, s, err)
		}
		if out, err := json.Marshal(s); err != nil || string(out) != "48000" {
			t.Errorf("%s writes %s, %v", in, out, err)
		}
	}
	for _, in := range []string{`48`, `4.8e4`, `true`, `""`} {
		var s timebase.SampleRate
		refused(t, in, json.Unmarshal([]byte(in), &s), `"48000"`)
	}
	if _, err := json.Marshal(timebase.SampleRate{}); err == nil {
		t.Error("the zero sample rate is written without an error")
	}
}

func TestSamplesAndMilliseconds(t *testing.T) {
	t.Parallel()
	at48, at441 := mustSampleRate(t, "48000"), mustSampleRate(t, "44100")
	if got := at48.SamplesMS(8008); got != nearestFloat(mustRat(t, "1001/6")) {
		t.Errorf("8008 samples at 48 kHz = %v ms, want 1001/6", got)
	}
	if got := at441.SpanRat(441); got.RatString() != "10" {
		t.Errorf("441 samples at 44.1 kHz = %s ms, want 10", got.RatString())
	}
	for ms, want := range map[float64]int64{1: 48, 0.0104: 0, 0.0105: 1, -0.0105: -1, 166.8333: 8008} {
		if got, err := at48.NearestSamples(ms); err != nil || got != want {
			t.Errorf("%v ms is nearest to %d samples, %v; want %d", ms, got, err, want)
		}
	}
}

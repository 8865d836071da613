package api_test

import (
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
)

// TestSeatsHearLater compares seats with the destination's own place: each metre
// of air takes 2.913753 ms at 20 degrees Celsius (ISO 9613-1:1993, 343.2 m/s).
func TestSeatsHearLater(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	in := hall()
	in["slug"] = "room"
	in["destinations"] = []m{{"slug": "hall", "air_m": 18, "seats": []m{{"slug": "near", "air_m": 6}, {"slug": "far", "air_m": 32}}}}
	s.post(editor, "/v1/rigs", in).want(http.StatusCreated)
	s.post(editor, "/v1/rigs/room/measurements", clap(5, "early")).want(http.StatusCreated)
	plan := s.get(editor, "/v1/rigs/room/delays").want(http.StatusOK)
	after := plan.at("pairs.0.after_ms").(float64)
	for i, metres := range []float64{6, 32} {
		seat := plan.at("pairs.0.seats").([]any)[i].(m)
		want := after - (metres-18)*2.913753
		if got := seat["after_ms"].(float64); math.Abs(got-want) > 1e-4 {
			t.Errorf("seat %v: %v ms, want %v", seat["seat"], got, want)
		}
		if inside := seat["inside"].(bool); inside != (want <= 40 && want >= -60) { // EBU R37-2007
			t.Errorf("seat %v at %v ms is inside: %t", seat["seat"], want, inside)
		}
	}
}

func TestDialsAfterAChangeOfFormat(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	s.put(editor, "/v1/rigs/hall/settings", m{"settings": []m{{"control": "lectern-delay", "value": 5}}}).want(http.StatusOK)
	s.post(editor, "/v1/devices/cam-a/modes", m{"slug": "fast", "format": "1080p59.94"}).want(http.StatusCreated)
	s.post(editor, "/v1/devices/mixer-s/modes", m{"slug": "fast", "format": "1080p59.94"}).want(http.StatusCreated)
	in := hall()
	in["frame_rate"] = 59.94
	for _, c := range in["chains"].([]m) {
		for _, stage := range c["stages"].([]m) {
			if stage["mode"] == "m" {
				stage["mode"] = "fast"
			}
		}
	}
	s.post(editor, "/v1/rigs/hall/measurements", clap(5, "early")).want(http.StatusCreated)
	s.put(editor, "/v1/rigs/hall", in, "If-Match", "*").want(http.StatusOK)
	plan := s.get(editor, "/v1/rigs/hall/delays").want(http.StatusOK)
	text := plan.at("advice.0.text").(string)
	if plan.at("advice.0.code") != "format-changed" || !strings.Contains(text, "now worth 83.4 ms") || !strings.Contains(text, "166.8 ms") {
		t.Errorf("advice: %v", plan.at("advice"))
	}
	offset := s.get(editor, "/v1/rigs/hall/offsets").want(http.StatusOK)
	if offset.at("offsets.0.basis") != "assumed" {
		t.Fatalf("nobody measured the new modes: %s", offset.body)
	}
	low := offset.at("offsets.0.assumed.range_ms.0").(float64)
	high := offset.at("offsets.0.assumed.range_ms.1").(float64)
	if !(low < 83.4 && high > 166.8) {
		t.Errorf("assumed from %v to %v ms, want from the same in frames to the same in ms", low, high)
	}
}

func TestTwoCopiesOfOneSound(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	in := hall()
	in["slug"] = "two"
	in["chains"] = append(in["chains"].([]m), m{"slug": "hand", "signal": "sound", "stages": []m{
		{"device": "mixer-s", "mode": "m", "controls": []m{{"control": "mic-2-delay", "name": "hand-delay"}}},
	}})
	s.post(editor, "/v1/rigs", in).want(http.StatusCreated)
	const path = "/v1/rigs/two/copies?first=lectern&second=hand"
	if got := s.get(editor, path).want(http.StatusOK); got.at("apart_ms") != nil || !strings.HasPrefix(got.at("text").(string), "Open only one") {
		t.Errorf("nothing is known: %s", got.body)
	}
	s.post(editor, "/v1/rigs/two/measurements", m{
		"first": "lectern", "second": "hand", "method": "tracks", "readings": []m{{"offset_ms": 2.0, "u_ms": 0.05}},
		"settings": []m{{"control": "lectern-delay", "value": 0}, {"control": "hand-delay", "value": 0}},
	}).want(http.StatusCreated)
	got := s.get(editor, path).want(http.StatusOK)
	apart := got.at("apart_ms").(float64)
	// Equal copies dt apart cancel at odd multiples of 1/(2 dt).
	if first := got.at("notches_hz.0").(float64); math.Abs(first-1000/(2*apart)) > 0.01 || math.Abs(apart-2) > 0.01 {
		t.Errorf("copies: %s", got.body)
	}
	// The dials move in whole frames of 33.4 ms.
	if text := got.at("text").(string); !strings.HasPrefix(text, "Open only one") || !strings.HasSuffix(text, "No delay brings them nearer: 2 ms remain.") {
		t.Errorf("what is said: %s", text)
	}
	s.get(editor, "/v1/rigs/two/copies?first=lectern&second=cam-1").refuses(http.StatusUnprocessableEntity, "second", "hand")
}

// TestWhenItDoesNotFit wants the honest way out: what runs out, by how much, and
// what a crew may try.
func TestWhenItDoesNotFit(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	for range 2 {
		in := clap(11, "early") // 367 ms; the control has 8 frames, 267 ms, and 40 ms early are allowed
		in["power_up"] = "new"
		s.post(editor, "/v1/rigs/hall/measurements", in).want(http.StatusCreated)
	}
	plan := s.get(editor, "/v1/rigs/hall/delays").want(http.StatusOK)
	if plan.at("state") != "infeasible" || plan.at("settings.0.value") != 8.0 || plan.at("settings.0.at_end") != true {
		t.Fatalf("plan: %s", plan.body)
	}
	if plan.at("bottlenecks.0.kind") != "control-range" || plan.at("bottlenecks.0.name") != "lectern-delay" {
		t.Errorf("bottlenecks: %v", plan.at("bottlenecks"))
	}
	enough := false
	for _, a := range plan.at("alternatives").([]any) {
		enough = enough || a.(m)["enough"].(bool)
	}
	if !enough {
		t.Errorf("no alternative is enough: %v", plan.at("alternatives"))
	}
}

// TestBothAnswersWithADoubtfulMeasurement reads one clap the wrong way round:
// (6*5 - 5)/7 frames would be the plain mean.
func TestBothAnswersWithADoubtfulMeasurement(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	measure := func(heard string) answer {
		in := clap(5, heard)
		in["power_up"] = "new"
		return s.post(editor, "/v1/rigs/hall/measurements", in).want(http.StatusCreated)
	}
	for range 6 {
		measure("early")
	}
	if all := s.get(editor, "/v1/rigs/hall/offsets").want(http.StatusOK).at("offsets.0.with_doubtful"); all != nil {
		t.Errorf("two answers without a doubtful measurement: %v", all)
	}
	bad := measure("late")
	if bad.at("offset.importance") != "hard" {
		t.Errorf("the pair is %v", bad.at("offset.importance"))
	}
	flags := bad.at("measurement.flags").([]any)
	if !slices.Contains(flags, any("doubtful")) || !slices.Contains(flags, any("cause:sign-swapped")) {
		t.Errorf("flags: %v", flags)
	}
	offset := s.get(editor, "/v1/rigs/hall/offsets").want(http.StatusOK)
	frame := 1001.0 / 30
	good, all := offset.at("offsets.0.offset_ms").(float64), offset.at("offsets.0.with_doubtful.offset_ms").(float64)
	if math.Abs(good-5*frame) > 0.01 || math.Abs(all-25*frame/7) > 0.01 {
		t.Errorf("%v ms, with the doubtful one %v ms, want %v and %v", good, all, 5*frame, 25*frame/7)
	}
}

package api_test

import (
	"net/http"
	"strings"
	"testing"
)

// TestBadInput sends every class of bad input; each must come back as a problem
// that says what to send instead.
func TestBadInput(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech, editor := s.key("tech", "red-van"), s.key("editor", "red-van")
	const measurements, devices, rigs = "/v1/rigs/hall/measurements", "/v1/devices", "/v1/rigs"
	with := func(name string, value any) m {
		in := clap(5, "early")
		in[name] = value
		return in
	}
	for _, c := range []struct {
		what, key, path string
		body            any
		status          int
		pointer, send   string
	}{
		{"unknown rate", tech, measurements, with("frame_rate", 29.9), 422, "/frame_rate", "29.97"},
		{"a rate of fields", editor, devices, m{"slug": "x", "name": "X", "kind": "camera", "modes": []m{{"slug": "m", "scan": "interlaced", "frame_rate": 59.94}}}, 422, "/modes/0/frame_rate", "30000/1001"},
		{"negative frames", tech, measurements, clap(-5, "early"), 422, "/readings/0/frames", "heard: late"},
		{"absurd frames", tech, measurements, clap(1e5, "early"), 422, "/readings/0/frames", "early or late"},
		{"wrong words", tech, measurements, clap(5, "soon"), 422, "/readings/0/heard", "early, late or in-sync"},
		{"unknown chain", tech, measurements, with("sound", "pulpit"), 422, "/sound", "lectern"},
		{"unknown destination", tech, measurements, with("read_at", "balcony"), 422, "/read_at", "programme"},
		{"off the grid", tech, measurements, with("settings", []m{{"control": "lectern-delay", "value": 2.5}}), 422, "/settings/0/value", "steps of 1"},
		{"out of range", tech, measurements, with("settings", []m{{"control": "lectern-delay", "value": 9}}), 422, "/settings/0/value", "0 to 8"},
		{"missing settings", tech, measurements, with("settings", []m{}), 422, "/settings", "lectern-delay"},
		{"the future", tech, measurements, with("taken_at", "2026-11-25T12:10:01Z"), 422, "/taken_at", "clock"},
		{"long ago", tech, measurements, with("taken_at", "1999-01-01T00:00:00Z"), 422, "/taken_at", "clock"},
		{"unknown members", tech, measurements, with("mood", "good"), 422, "/mood", "picture"},
		{"a text for a list", tech, measurements, with("readings", "five"), 422, "/readings", "a list"},
		{"a list for a number", tech, measurements, clap([]int{5}, "early"), 422, "/readings/0/frames", "a number"},
		{"a duplicate member", tech, measurements, `{"picture":"cam-1","picture":"cam-1"}`, 422, "/picture", "once"},
		{"a duplicate slug", editor, rigs, hall(), 409, "/slug", "another slug"},
		{"a slug of capitals", editor, rigs, m{"slug": "Hall", "name": "x", "frame_rate": 25, "chains": []m{}}, 422, "/slug", "lower-case"},
		{"no such device", editor, rigs, m{"slug": "x", "name": "x", "frame_rate": 25, "chains": []m{{"slug": "a", "signal": "sound", "stages": []m{{"device": "no", "mode": "m"}}}}}, 422, "/chains/0/stages/0/device", "catalogue"},
		{"one name for two controls", editor, rigs, twoControls(), 422, "/chains/2/stages/0/controls/0/name", "one name for one control"},
	} {
		a := s.post(c.key, c.path, c.body)
		if a.status != c.status {
			t.Errorf("%s: got %d %s, want %d", c.what, a.status, a.body, c.status)
			continue
		}
		a.refuses(c.status, c.pointer, c.send)
	}
}

// twoControls is the hall with a second microphone whose delay, another one of
// the switcher, has the name of the first one's.
func twoControls() m {
	in := hall()
	in["slug"] = "other"
	in["chains"] = append(in["chains"].([]m), m{"slug": "hand", "signal": "sound", "stages": []m{
		{"device": "mixer-s", "mode": "m", "controls": []m{{"control": "mic-2-delay", "name": "lectern-delay"}}},
	}})
	return in
}

func TestWhatIsNotJSON(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech := s.key("tech", "red-van")
	const path = "/v1/rigs/hall/measurements"
	for what, body := range map[string]string{
		"nothing": " ", "half of it": `{"picture":"cam-1"`, "not a number": `{"distance_m":NaN}`, "words": "five frames",
		"invalid UTF-8": "{\"note\":\"\xff\"}", "deep JSON": `{"note":` + strings.Repeat("[", 100_000), "two values": `{} {}`,
	} {
		a := s.send(tech, http.MethodPost, path, []byte(body))
		if a.status != http.StatusBadRequest || !strings.Contains(string(a.body), "end") {
			t.Errorf("%s: got %d %s, want 400 that says what to send", what, a.status, a.body)
		}
	}
	large := `{"note":"` + strings.Repeat("x", 1<<20) + `"}`
	s.send(tech, http.MethodPost, path, []byte(large)).want(http.StatusRequestEntityTooLarge)
	s.send(tech, http.MethodPost, path, []byte(`{}`), "Content-Type", "text/xml").want(http.StatusUnsupportedMediaType)
}

package api_test

import (
	"net/http"
	"strings"
	"testing"
	"time"
)

// TestAMeasurementIsShownInWords measures by eye as a phone sends it. Five
// frames at 30000/1001 are 5 * 1001/30 = 166.833... ms.
func TestAMeasurementIsShownInWords(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech := s.key("tech", "red-van")
	taken := s.post(tech, "/v1/rigs/hall/measurements", m{
		"client_id": "5b1c0b0e-4a6c-4c8e-9d0e-2f1a3b4c5d6e", "picture": "cam-1", "sound": "lectern", "read_at": "programme",
		"method": "eye", "eye": "both-sides", "frame_rate": "29.97", "card_source": "tablet-p",
		"readings": []m{{"frames": 5, "heard": "early"}, {"frames": 6.5, "heard": "early", "at_s": 4.1}, {"frames": 0, "heard": "in-sync"}},
		"settings": []m{{"control": "lectern-delay", "value": 0}}, "power_up": "evening", "distance_m": 1.2, "air_c": 21,
		"taken_at": "2026-11-25T12:04:00+01:00", "revision": 1, "note": "from the gallery",
	}).want(http.StatusCreated)
	id := taken.at("measurement.id").(string)
	if got, want := taken.header.Get("Location"), "/v1/measurements/"+id; got != want {
		t.Errorf("Location %q, want %q", got, want)
	}
	got := s.get(tech, "/v1/measurements/"+id).want(http.StatusOK).json()
	for name, want := range map[string]string{
		"client_id": `"5b1c0b0e-4a6c-4c8e-9d0e-2f1a3b4c5d6e"`, "rig": `"red-van.hall"`, "revision": `1`,
		"first": `"cam-1"`, "second": `"lectern"`, "picture": `"cam-1"`, "sound": `"lectern"`, "read_at": `"programme"`,
		"method": `"eye"`, "eye": `"both-sides"`, "frame_rate": `"30000/1001"`, "card_source": `"tablet-p"`,
		"readings": `[{"at_s":null,"frames":5,"heard":"early","offset_ms":166.833333,"u_ms":null},` +
			`{"at_s":4.1,"frames":6.5,"heard":"early","offset_ms":216.883333,"u_ms":null},` +
			`{"at_s":null,"frames":0,"heard":"in-sync","offset_ms":0,"u_ms":null}]`,
		"offset_ms": `127.905556`, "heard": `"sound early 3.8 frames (127.9 ms)"`, // the mean of 5, 6.5 and 0 frames
		"settings": `[{"control":"lectern-delay","value":0}]`, "distance_m": `1.2`, "air_c": `21`,
		"taken_at": `"2026-11-25T12:04:00+01:00"`, "recorded_at": `"2026-11-25T12:00:00Z"`, "note": `"from the gallery"`,
		"by": `"tech@red-van"`, "struck": `null`,
	} {
		if text := compact(t, got[name]); text != want {
			t.Errorf("%s: got %s, want %s", name, text, want)
		}
	}
	if got["power_up"].(m)["label"] != "evening" {
		t.Errorf("power_up is %v", got["power_up"])
	}
	if taken.at("offset.basis") != "measured" || taken.at("delays.state") == "unknown" || taken.at("check") != nil {
		t.Errorf("what follows is %s", taken.body)
	}
}

// TestHeardWords: a size and a direction, never a sign.
func TestHeardWords(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech := s.key("tech", "red-van")
	for _, c := range []struct {
		frames any
		heard  string
		want   string
	}{
		{5, "early", "sound early 5 frames (166.8 ms)"},
		{1, "late", "sound late 1 frame (33.4 ms)"},
		{2.5, "late", "sound late 2.5 frames (83.4 ms)"},
		{0, "in-sync", "in sync"},
	} {
		if got := s.post(tech, "/v1/rigs/hall/measurements", clap(c.frames, c.heard)).want(http.StatusCreated).at("measurement.heard"); got != c.want {
			t.Errorf("%v frames %s: got %q, want %q", c.frames, c.heard, got, c.want)
		}
	}
}

// TestWhatIsComparedBesides: two microphones, two cameras and the event itself.
func TestWhatIsComparedBesides(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	in := hall()
	in["chains"] = append(in["chains"].([]m), m{"slug": "hand", "signal": "sound", "stages": []m{{"device": "radio-mic-w", "mode": "default"}}})
	s.put(s.key("editor", "red-van"), "/v1/rigs/hall", in, "If-Match", "*").want(http.StatusOK)
	tech := s.key("tech", "red-van")
	dialled := []m{{"control": "lectern-delay", "value": 0}}
	tracks := s.post(tech, "/v1/rigs/hall/measurements", m{
		"first": "hand", "second": "lectern", "method": "tracks", "readings": []m{{"offset_ms": -29.14, "u_ms": 0.1}},
		"settings": dialled, "distance_m": -0.4,
	}).want(http.StatusCreated)
	for path, want := range map[string]any{
		"measurement.picture": nil, "measurement.sound": nil, "measurement.eye": nil, "measurement.offset_ms": -29.14,
		"measurement.heard": "hand before lectern by 29.1 ms", "offset.first": "hand", "offset.second": "lectern",
		"offset.picture": nil, "offset.sound": nil, "offset.heard": nil, "check": nil,
	} {
		if got := tracks.at(path); got != want {
			t.Errorf("%s: got %v, want %v", path, got, want)
		}
	}
	after := s.post(tech, "/v1/rigs/hall/measurements", m{
		"first": "hand", "second": "lectern", "method": "tracks", "readings": []m{{"offset_ms": 29.14}, {"offset_ms": 30}}, "settings": dialled,
	}).want(http.StatusCreated)
	if got := after.at("measurement.heard"); got != "hand after lectern by 29.6 ms" {
		t.Errorf("the later track is %q", got)
	}
	live := s.post(tech, "/v1/rigs/hall/measurements", m{
		"picture": "live", "sound": "lectern", "method": "clap", "readings": []m{{"frames": 2, "heard": "late"}}, "settings": dialled,
	}).want(http.StatusCreated)
	if live.at("measurement.picture") != "live" || live.at("measurement.heard") != "sound late 2 frames (66.7 ms)" {
		t.Errorf("live is %s", live.body)
	}
}

func TestPowerUpsByDefault(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech := s.key("tech", "red-van")
	last := ""
	for _, c := range []struct {
		what string
		wait time.Duration
		said any
		same bool
	}{
		{"the first one", 0, nil, false},
		{"within 12 hours", 11*time.Hour + 59*time.Minute, nil, true},
		{"exactly 12 hours later", 12 * time.Hour, nil, true},
		{"later than that", 12*time.Hour + time.Second, nil, false},
		{"said to be new", time.Minute, "new", false},
		{"said to be the same after two days", 48 * time.Hour, "same", true},
		{"a label", time.Minute, "evening", false},
		{"that label again", 72 * time.Hour, "evening", true},
	} {
		s.wait(c.wait)
		in := clap(5, "early")
		if c.said != nil {
			in["power_up"] = c.said
		}
		id := s.post(tech, "/v1/rigs/hall/measurements", in).want(http.StatusCreated).at("measurement.power_up.id").(string)
		if same := id == last; same != c.same {
			t.Errorf("%s: the same power-up: %v, want %v", c.what, same, c.same)
		}
		last = id
	}
}

// TestSettingsInForceAreTaken leaves settings out: those in force when it was
// measured are taken, not those of now, and a revision is that of the time.
func TestSettingsInForceAreTaken(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor, tech := s.key("editor", "red-van"), s.key("tech", "red-van")
	dial := func(value int) {
		s.put(editor, "/v1/rigs/hall/settings", m{"settings": []m{{"control": "lectern-delay", "value": value}}}).want(http.StatusOK)
	}
	dial(3)
	s.wait(time.Hour)
	dial(4)
	changed := hall()
	changed["frame_rate"] = 25
	s.put(editor, "/v1/rigs/hall", changed, "If-Match", "*").want(http.StatusOK)
	for _, c := range []struct {
		at       string
		value    float64
		revision float64
		rate     string
	}{
		{"2026-11-25T12:59:59Z", 3, 1, "30000/1001"},
		{"2026-11-25T13:00:00Z", 4, 2, "25"},
	} {
		in := clap(5, "early")
		delete(in, "settings")
		in["taken_at"] = c.at
		got := s.post(tech, "/v1/rigs/hall/measurements", in).want(http.StatusCreated)
		if v, r, f := got.at("measurement.settings.0.value"), got.at("measurement.revision"), got.at("measurement.frame_rate"); v != c.value || r != c.revision || f != c.rate {
			t.Errorf("at %s: setting %v, revision %v, rate %v, want %v, %v, %v", c.at, v, r, f, c.value, c.revision, c.rate)
		}
	}
	early := clap(5, "early")
	delete(early, "settings")
	early["taken_at"] = "2026-11-25T11:59:59Z"
	s.post(tech, "/v1/rigs/hall/measurements", early).refuses(http.StatusUnprocessableEntity, "/settings", `"lectern-delay"`)
}

func TestMeasurementsAreListedNewestFirst(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech := s.key("tech", "red-van")
	var batch []m
	for range 5 {
		in := clap(5, "early")
		in["rig"] = "hall"
		batch = append(batch, in)
	}
	one := s.post(tech, "/v1/measurements", batch).want(http.StatusOK) // five of one version
	last := s.post(tech, "/v1/rigs/hall/measurements", clap(5, "early")).want(http.StatusCreated).at("measurement.id")
	want := []any{last}
	for i := range 5 {
		want = append(want, one.at("items").([]any)[i].(m)["id"])
	}
	seen := map[any]int{}
	path, pages := "/v1/rigs/hall/measurements?page_size=2", 0
	for path != "" {
		page := s.get(tech, path).want(http.StatusOK)
		for _, item := range page.at("items").([]any) {
			seen[item.(m)["id"]]++
		}
		if pages == 0 && page.at("items.0.id") != last {
			t.Errorf("the newest is not first: %s", page.body)
		}
		link := page.header.Get("Link")
		path, _, _ = strings.Cut(strings.TrimPrefix(link, "<"), ">")
		if pages++; pages > 5 {
			t.Fatal("the pages have no end")
		}
	}
	for _, id := range want {
		if seen[id] != 1 {
			t.Errorf("%v was listed %d times, want once", id, seen[id])
		}
	}
	if pages != 3 || len(seen) != 6 {
		t.Errorf("%d measurements on %d pages, want 6 on 3", len(seen), pages)
	}
}

func TestStrikeAndRestore(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech, editor := s.key("tech", "red-van"), s.key("editor", "red-van")
	id := s.post(tech, "/v1/rigs/hall/measurements", clap(5, "early")).want(http.StatusCreated).at("measurement.id").(string)
	path := "/v1/measurements/" + id
	basis := func() any { return s.get(tech, "/v1/rigs/hall/offsets").want(http.StatusOK).at("offsets.0.basis") }
	s.post(tech, path+"/strike", m{"reason": " "}).refuses(http.StatusUnprocessableEntity, "/reason", "text")
	s.post(tech, path+"/strike", m{}).refuses(http.StatusUnprocessableEntity, "/reason", "text")
	struck := s.post(tech, path+"/strike", m{"reason": "wrong cable"}).want(http.StatusOK)
	if struck.at("struck.reason") != "wrong cable" || struck.at("struck.by") != "tech@red-van" || struck.at("struck.at") != "2026-11-25T12:00:00Z" {
		t.Errorf("struck is %v", struck.at("struck"))
	}
	if got := basis(); got != "unknown" {
		t.Errorf("a struck measurement still gives a %v offset", got)
	}
	if listed := s.get(tech, "/v1/rigs/hall/measurements").at("items").([]any); len(listed) != 1 {
		t.Errorf("a struck measurement is gone from the list")
	}
	s.wait(24 * time.Hour)
	s.post(tech, path+"/restore", m{"reason": "it was right"}).want(http.StatusOK)
	if got := basis(); got != "measured" {
		t.Errorf("a restored measurement gives a %v offset", got)
	}
	s.wait(time.Second)
	s.post(tech, path+"/strike", m{"reason": "too late for its author"}).want(http.StatusForbidden)
	other := s.post(editor, "/v1/rigs/hall/measurements", clap(5, "early")).want(http.StatusCreated).at("measurement.id").(string)
	s.post(tech, "/v1/measurements/"+other+"/strike", m{"reason": "not mine"}).want(http.StatusForbidden)
	s.post(editor, path+"/strike", m{"reason": "an editor may"}).want(http.StatusOK)
	s.post(editor, "/v1/measurements/not-an-id/strike", m{"reason": "x"}).want(http.StatusNotFound)
}

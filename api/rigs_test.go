package api_test

import (
	"encoding/json"
	"net/http"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// theatre is a rig with every part that a rig can have, as a client writes it.
func theatre() m {
	return m{
		"slug": "theatre", "name": "Theatre", "crew": "red-van", "visibility": []string{"blue-van"}, "job_date": "2026-12-01",
		"notes": "two storeys", "frame_rate": 29.97,
		"chains": []m{
			{"slug": "cam-1", "signal": "picture", "stages": []m{
				{"device": "cam-a", "mode": "m", "unit": "C-014", "timing": "free"}, {"device": "mixer-s", "mode": "m", "timing": "house"},
			}},
			{"slug": "lectern", "signal": "sound", "air_m": 0.3, "stages": []m{
				{"device": "radio-mic-w", "mode": "default"},
				{"device": "mixer-s", "mode": "m", "controls": []m{{"control": "mic-1-delay", "name": "lectern-delay"}}},
			}},
			{"slug": "guest", "signal": "sound", "subject": "guest", "stages": []m{
				{"device": "mixer-s", "mode": "m", "controls": []m{{"control": "mic-2-delay", "ours": false}}},
			}},
		},
		"destinations": []m{
			{"slug": "programme", "limit": "ebu-r37"},
			{"slug": "hall", "limit": "itu-bt1359-detectable", "air_m": 18, "picture": []m{{"device": "mixer-s", "mode": "m"}}},
		},
		"feeds": []m{{"slug": "pa", "chain": "lectern", "max_added_ms": 5}},
		"pairs": []m{{"picture": "cam-1", "sound": "lectern", "importance": "hard"}, {"picture": "cam-1", "sound": "lectern", "destination": "hall", "importance": "soft"}},
	}
}

// TestWhatARigShowsCanBeSentBack reads a rig and puts back the very bytes: also
// after a restart, when the rig comes from the database, no revision is made.
func TestWhatARigShowsCanBeSentBack(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	s.post(editor, "/v1/rigs", theatre()).want(http.StatusCreated)
	first := s.get(editor, "/v1/rigs/theatre").want(http.StatusOK)
	for range 2 {
		now := s.get(editor, "/v1/rigs/theatre").want(http.StatusOK)
		put := s.send(editor, http.MethodPut, "/v1/rigs/theatre", now.body, "If-Match", now.header.Get("ETag")).want(http.StatusOK)
		if got := put.at("revision"); got != 1.0 {
			t.Fatalf("the rig came back as revision %v, want 1", got)
		}
		after := put.json()
		delete(after, "version")
		want := first.json()
		delete(want, "version")
		if diff := cmp.Diff(want, after); diff != "" {
			t.Errorf("the rig changed (-was +is):\n%s", diff)
		}
		s.serve()
	}
}

// TestARigIsShownAsItWasWritten compares with what was sent, and names the
// defaults that were filled in.
func TestARigIsShownAsItWasWritten(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	s.post(editor, "/v1/rigs", theatre()).want(http.StatusCreated)
	got := s.get(editor, "/v1/rigs/theatre").want(http.StatusOK).json()
	for name, want := range map[string]string{
		"frame_rate": `"30000/1001"`, "frame_rate_label": `"29.97"`, "visibility": `["blue-van"]`, "job_date": `"2026-12-01"`,
		"notes": `"two storeys"`, "crew": `"red-van"`, "revision": `1`,
		"feeds": `[{"chain":"lectern","max_added_ms":5,"slug":"pa"}]`,
		"pairs": `[{"destination":"","importance":"hard","picture":"cam-1","sound":"lectern"},` +
			`{"destination":"hall","importance":"soft","picture":"cam-1","sound":"lectern"}]`,
		"destinations": `[{"air_m":0,"limit":"ebu-r37","picture":[],"seats":[],"slug":"programme","sound":[]},` +
			`{"air_m":18,"limit":"itu-bt1359-detectable","picture":[{"controls":[],"device":"mixer-s","mode":"m","timing":"unknown","unit":null}],"seats":[],"slug":"hall","sound":[]}]`,
	} {
		if text := compact(t, got[name]); text != want {
			t.Errorf("%s: got %s, want %s", name, text, want)
		}
	}
	chains := got["chains"].([]any)
	if text := compact(t, chains[1]); text != `{"air_m":0.3,"signal":"sound","slug":"lectern","stages":[`+
		`{"controls":[],"device":"radio-mic-w","mode":"default","timing":"unknown","unit":null},`+
		`{"controls":[{"control":"mic-1-delay","name":"lectern-delay"}],"device":"mixer-s","mode":"m","timing":"unknown","unit":null}],"subject":"stage"}` {
		t.Errorf("the chain lectern is %s", text)
	}
	// ours is said only where the rig says it; a name is always said.
	if text := compact(t, chains[2].(m)["stages"].([]any)[0].(m)["controls"]); text != `[{"control":"mic-2-delay","name":"mic-2-delay","ours":false}]` {
		t.Errorf("the control of guest is %s", text)
	}
}

func compact(t *testing.T, value any) string {
	t.Helper()
	text, err := json.Marshal(value)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestRevisions: a changed layout makes a revision, a changed name, date, note
// or visibility does not.
func TestRevisions(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	in := theatre()
	s.post(editor, "/v1/rigs", in).want(http.StatusCreated)
	change := func(name string, value any, revision float64) {
		t.Helper()
		in[name] = value
		slug := in["slug"].(string)
		if name == "slug" {
			slug = "theatre"
		}
		if got := s.put(editor, "/v1/rigs/"+slug, in, "If-Match", "*").want(http.StatusOK).at("revision"); got != revision {
			t.Errorf("after a change of %s the revision is %v, want %v", name, got, revision)
		}
	}
	change("slug", "old-theatre", 1)
	change("name", "Old theatre", 1)
	change("job_date", nil, 1)
	change("notes", "", 1)
	change("visibility", "company", 1)
	change("frame_rate", "30000/1001", 1) // the same rate, written another way
	change("pairs", []m{}, 2)
	change("frame_rate", 25, 3)
	s.get(editor, "/v1/rigs/theatre").want(http.StatusNotFound)
	list := s.get(editor, "/v1/rigs/old-theatre/revisions").want(http.StatusOK)
	for i, want := range []string{"30000/1001", "30000/1001", "25"} {
		item := list.at("items").([]any)[i].(m)
		if item["revision"] != float64(i+1) || item["frame_rate"] != want || item["by"] != "editor@red-van" || item["at"] != "2026-11-25T12:00:00Z" {
			t.Errorf("revision %d is %v", i+1, item)
		}
	}
	if first := list.at("items.0.pairs").([]any); len(first) != 2 {
		t.Errorf("the first revision lost its pairs: %v", first)
	}
}

func TestCloneARig(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	s.post(s.key("editor", "red-van"), "/v1/rigs", theatre()).want(http.StatusCreated)
	blue := s.key("editor", "blue-van")
	clone := s.post(blue, "/v1/rigs", m{"from": "red-van.theatre", "slug": "theatre", "job_date": "2026-12-08"}).want(http.StatusCreated)
	original := s.get(blue, "/v1/rigs/red-van.theatre").want(http.StatusOK).json()
	got := clone.json()
	for _, same := range []string{"name", "notes", "chains", "destinations", "feeds", "pairs", "frame_rate"} {
		if diff := cmp.Diff(original[same], got[same]); diff != "" {
			t.Errorf("%s of the clone differs (-original +clone):\n%s", same, diff)
		}
	}
	// A clone belongs to who made it and is shown to nobody else until they say so.
	if got["crew"] != "blue-van" || got["visibility"] != "crew" || got["job_date"] != "2026-12-08" || got["revision"] != 1.0 {
		t.Errorf("the clone is %v", got)
	}
	if location := clone.header.Get("Location"); location != "/v1/rigs/blue-van.theatre" {
		t.Errorf("the clone is at %s", location)
	}
	s.post(blue, "/v1/rigs", m{"from": "red-van.hall", "slug": "x"}).refuses(http.StatusUnprocessableEntity, "/from", "a rig that you may see")
	changed := s.post(blue, "/v1/rigs", m{"from": "theatre", "slug": "x", "frame_rate": 25, "chains": hall()["chains"]}).want(http.StatusCreated)
	if changed.at("frame_rate") != "25" || len(changed.at("chains").([]any)) != 2 {
		t.Errorf("what a clone is given was not taken: %s", changed.body)
	}
}

func TestListRigs(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	red, blue := s.key("editor", "red-van"), s.key("editor", "blue-van")
	for _, slug := range []string{"b", "a", "c"} {
		in := hall()
		in["slug"], in["visibility"] = slug, "company"
		s.post(blue, "/v1/rigs", in).want(http.StatusCreated)
	}
	names := func(key, query string) (names []string) {
		t.Helper()
		for _, item := range s.get(key, "/v1/rigs"+query).want(http.StatusOK).at("items").([]any) {
			names = append(names, item.(m)["crew"].(string)+"."+item.(m)["slug"].(string)+" "+item.(m)["state"].(string))
		}
		return names
	}
	// In order of identifier, which is that of making: a rig that is renamed stays in its place.
	all := []string{"red-van.hall never-checked", "blue-van.b never-checked", "blue-van.a never-checked", "blue-van.c never-checked"}
	for _, c := range []struct {
		key, query string
		want       []string
	}{
		{red, "", all},
		{blue, "", all[1:]},
		{red, "?crew=red-van", all[:1]},
		{red, "?crew=green-van", nil},
		{red, "?state=never-checked", all},
		{red, "?state=inside", nil},
		{red, "?page_size=2", all[:2]},
	} {
		if got := names(c.key, c.query); !slices.Equal(got, c.want) {
			t.Errorf("GET /v1/rigs%s: got %v, want %v", c.query, got, c.want)
		}
	}
	s.get(red, "/v1/rigs?state=good").refuses(http.StatusUnprocessableEntity, "state", "inside, outside")
	next := s.get(red, "/v1/rigs?page_size=3").want(http.StatusOK).at("next").(string)
	s.send(blue, http.MethodDelete, "/v1/rigs/a", nil, "If-Match", "*").want(http.StatusNoContent) // the one the cursor names
	if got := names(red, "?after="+next); !slices.Equal(got, all[3:]) {
		t.Errorf("the page behind a deleted rig: got %v, want %v", got, all[3:])
	}
}

func TestARigIsFoundByEachOfItsNames(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	red, blue := s.key("editor", "red-van"), s.key("editor", "blue-van")
	in := hall()
	in["visibility"] = "company"
	id := s.put(red, "/v1/rigs/hall", in, "If-Match", "*").want(http.StatusOK).at("id")
	for _, name := range []string{"hall", "red-van.hall", id.(string)} {
		if got := s.get(blue, "/v1/rigs/"+name).want(http.StatusOK).at("id"); got != id {
			t.Errorf("%s is the rig %v, want %v", name, got, id)
		}
	}
	// Two rigs of one slug: one's own is meant, and who has none of their own must say whose.
	own := s.post(blue, "/v1/rigs", in).want(http.StatusCreated).at("id")
	if got := s.get(blue, "/v1/rigs/hall").want(http.StatusOK).at("id"); got != own {
		t.Errorf("hall is the rig %v, want one's own, %v", got, own)
	}
	s.get(s.admin, "/v1/rigs/hall").want(http.StatusConflict)
	s.get(s.admin, "/v1/rigs/blue-van.hall").want(http.StatusOK)
	s.send(red, http.MethodDelete, "/v1/rigs/"+id.(string), nil, "If-Match", "*").want(http.StatusNoContent)
	s.get(red, "/v1/rigs/"+id.(string)).want(http.StatusNotFound)
}

// TestARetiredModeStaysInItsRigs: what is in use may be retired, and a rig that
// has it can still be renamed and sent back; nothing new may take it.
func TestARetiredModeStaysInItsRigs(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	for _, part := range []string{"cam-a/modes/m", "cam-a/units/C-014", "mixer-s/controls/mic-1-delay"} {
		s.send(editor, http.MethodDelete, "/v1/devices/"+part, nil).want(http.StatusOK)
	}
	rig := s.get(editor, "/v1/rigs/hall").want(http.StatusOK)
	in := rig.json()
	in["name"] = "Hall, east door"
	if got := s.put(editor, "/v1/rigs/hall", in, "If-Match", "*").want(http.StatusOK).at("revision"); got != 1.0 {
		t.Errorf("a new name made revision %v", got)
	}
	in["slug"] = "other"
	s.post(editor, "/v1/rigs", in).refuses(http.StatusUnprocessableEntity, "/chains/0/stages/0/mode", "one of")
}

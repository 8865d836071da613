package api_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"
)

// TestWhatOneMayNotKnowOfIsNotThere asks for a private rig in every way there
// is: the answer must be the one for a rig that does not exist, letter by letter
// but for the name that was asked for.
func TestWhatOneMayNotKnowOfIsNotThere(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	red, blue := s.key("editor", "red-van"), s.key("editor", "blue-van")
	rig := s.get(red, "/v1/rigs/hall").want(http.StatusOK).at("id").(string)
	measurement := s.post(red, "/v1/rigs/hall/measurements", clap(5, "early")).want(http.StatusCreated).at("measurement.id").(string)
	nothing := uuid.Must(uuid.NewV7()).String()
	dial := m{"settings": []m{{"control": "lectern-delay", "value": 3}}}
	for _, c := range []struct {
		method, path string
		body         any
	}{
		{"GET", "/v1/rigs/RIG", nil},
		{"PUT", "/v1/rigs/RIG", hall()},
		{"DELETE", "/v1/rigs/RIG", nil},
		{"GET", "/v1/rigs/RIG/revisions", nil},
		{"GET", "/v1/rigs/RIG/measurements", nil},
		{"POST", "/v1/rigs/RIG/measurements", clap(5, "early")},
		{"GET", "/v1/rigs/RIG/settings", nil},
		{"PUT", "/v1/rigs/RIG/settings", dial},
		{"GET", "/v1/rigs/RIG/offsets", nil},
		{"GET", "/v1/rigs/RIG/delays", nil},
		{"GET", "/v1/rigs/RIG/delays?limit=none", nil},
		{"GET", "/v1/rigs/RIG/next-measurement", nil},
		{"GET", "/v1/rigs/RIG/sheet", nil},
		{"GET", "/v1/measurements/ID", nil},
		{"POST", "/v1/measurements/ID/strike", m{"reason": "x"}},
		{"POST", "/v1/measurements/ID/restore", m{"reason": "x"}},
	} {
		ask := func(key, rig, id string) (int, string) {
			var body []byte
			if c.body != nil {
				body = encode(t, c.body)
			}
			path := strings.NewReplacer("RIG", rig, "ID", id).Replace(c.path)
			a := s.send(key, c.method, path, body, "If-Match", `"1"`)
			return a.status, strings.NewReplacer(rig, "NAME", id, "NAME").Replace(string(a.body))
		}
		for _, name := range []string{"hall", "red-van.hall", rig} {
			for who, key := range map[string]string{"another crew": blue, "no crew": s.key("tech", "")} {
				status, body := ask(key, name, measurement)
				_, none := ask(key, "cellar", nothing)
				if strings.Contains(name, ".") {
					_, none = ask(key, "red-van.cellar", nothing)
				}
				if status != http.StatusNotFound || body != none {
					t.Errorf("%s to %s %s of %s: got %d\n%s\nwant the answer for what is not there\n%s", who, c.method, c.path, name, status, body, none)
				}
			}
		}
	}
	if list := s.get(blue, "/v1/rigs").want(http.StatusOK); len(list.at("items").([]any)) != 0 {
		t.Errorf("another crew's list has the rig: %s", list.body)
	}
	clone := s.post(blue, "/v1/rigs", m{"from": "red-van.hall", "slug": "x"})
	none := s.post(blue, "/v1/rigs", m{"from": "red-van.cellar", "slug": "x"})
	if string(clone.body) != string(none.body) {
		t.Errorf("a clone of a private rig: got %s, want %s", clone.body, none.body)
	}
}

// TestPrivateRigsLendTheirMeasurements: a rig of the blue van is predicted from
// measurements on a private rig of the red van. The number is given; where it
// comes from is one entry without a name.
func TestPrivateRigsLendTheirMeasurements(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	red, blue := s.key("editor", "red-van"), s.key("editor", "blue-van")
	var secret []string
	for _, frames := range []float64{5, 5.5, 6} {
		in := clap(frames, "early")
		in["power_up"], in["note"] = "new", "whispered"
		secret = append(secret, s.post(red, "/v1/rigs/hall/measurements", in).want(http.StatusCreated).at("measurement.id").(string))
	}
	in := hall()
	in["slug"] = "cellar"
	s.post(blue, "/v1/rigs", in).want(http.StatusCreated)
	offsets := s.get(blue, "/v1/rigs/cellar/offsets").want(http.StatusOK)
	if offsets.at("offsets.0.offset_ms") == nil {
		t.Fatalf("nothing is known of the cellar: %s", offsets.body)
	}
	hidden, weight := 0, 0.0
	for _, e := range offsets.at("offsets.0.evidence").([]any) {
		if e := e.(m); e["text"] == "not visible to you" {
			hidden++
			weight = e["weight"].(float64)
			if e["measurement"] != nil || e["rig"] != nil || e["stated"] != nil || e["card_source"] != nil {
				t.Errorf("the hidden entry says %v", e)
			}
		}
	}
	// Three claps of one pair are the whole of what is known: their weights add up to 1.
	if hidden != 1 || weight != 1 {
		t.Errorf("%d hidden entries of weight %v, want one of 1:\n%s", hidden, weight, offsets.body)
	}
	for _, path := range []string{
		"/v1/rigs", "/v1/rigs/cellar", "/v1/rigs/cellar/offsets", "/v1/rigs/cellar/delays?explain=1", "/v1/rigs/cellar/delays?format=text&force=1",
		"/v1/rigs/cellar/next-measurement", "/v1/rigs/cellar/sheet", "/v1/rigs/cellar/measurements", "/v1/latencies", "/v1/devices/cam-a/latency", "/v1/crews",
	} {
		body := string(s.get(blue, path).want(http.StatusOK).body)
		for _, word := range append(secret, "red-van", "whispered", `"hall"`) {
			if strings.Contains(body, word) {
				t.Errorf("%s tells another crew %q:\n%s", path, word, body)
			}
		}
	}
	open := s.get(s.admin, "/v1/rigs/blue-van.cellar/offsets").want(http.StatusOK)
	for _, id := range secret {
		if !strings.Contains(string(open.body), id) {
			t.Errorf("an admin does not see %s as evidence", id)
		}
	}
	if n := open.at("offsets.0.measurements"); n != 3.0 || open.at("offsets.0.power_ups") != 3.0 {
		t.Errorf("an admin counts %v measurements", n)
	}
	if n := offsets.at("offsets.0.measurements"); n != 0.0 || offsets.at("offsets.0.power_ups") != 0.0 {
		t.Errorf("another crew counts %v measurements that it may not see", n)
	}
	for _, path := range []string{"/v1/rigs/blue-van.cellar/offsets", "/v1/latencies", "/v1/devices/cam-a/latency"} {
		mine, all := s.get(blue, path), s.get(s.admin, path)
		if mine.header.Get("ETag") == all.header.Get("ETag") || string(mine.body) == string(all.body) {
			t.Errorf("%s: two answers that should differ have one tag, %s", path, all.header.Get("ETag"))
		}
	}
}

// TestWhoIsListedSeesTheRig and may not write to it.
func TestWhoIsListedSeesTheRig(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	s.post(s.admin, "/v1/crews", m{"slug": "green-van", "name": "Green van"}).want(http.StatusCreated)
	red := s.key("editor", "red-van")
	in := hall()
	in["visibility"] = []string{"blue-van"}
	s.put(red, "/v1/rigs/hall", in, "If-Match", "*").want(http.StatusOK)
	blue, green := s.key("editor", "blue-van"), s.key("editor", "green-van")
	s.get(blue, "/v1/rigs/hall").want(http.StatusOK)
	s.get(green, "/v1/rigs/hall").want(http.StatusNotFound)
	s.put(blue, "/v1/rigs/hall", in, "If-Match", "*").want(http.StatusForbidden)
	s.post(blue, "/v1/rigs/hall/measurements", clap(5, "early")).want(http.StatusForbidden)
	s.send(blue, http.MethodDelete, "/v1/rigs/hall", nil, "If-Match", "*").want(http.StatusForbidden)
	in["visibility"] = []string{"purple-van"}
	s.put(red, "/v1/rigs/hall", in, "If-Match", "*").refuses(http.StatusUnprocessableEntity, "/visibility/0", "slugs of crews")
	in["visibility"] = "everybody"
	s.sendBare(red, http.MethodPut, "/v1/rigs/hall", encode(t, in), "If-Match", "*").refuses(http.StatusUnprocessableEntity, "/visibility", "a list of crew slugs")
}

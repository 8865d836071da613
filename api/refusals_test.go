package api_test

import (
	"net/http"
	"strings"
	"testing"
)

// TestRefusedRigs goes through what can be wrong with a rig.
func TestRefusedRigs(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	type edit func(rig m, picture, sound m)
	for _, c := range []struct {
		what          string
		edit          edit
		pointer, send string
	}{
		{"no rate", func(rig, _, _ m) { delete(rig, "frame_rate") }, "/frame_rate", "29.97"},
		{"a rate between two", func(rig, _, _ m) { rig["frame_rate"] = "29.98" }, "/frame_rate", "30000/1001"},
		{"no name", func(rig, _, _ m) { rig["name"] = " " }, "/name", "a text"},
		{"no chains", func(rig, _, _ m) { rig["chains"] = []m{} }, "/chains", "at least one chain"},
		{"a date that is none", func(rig, _, _ m) { rig["job_date"] = "2026-02-30" }, "/job_date", "YYYY-MM-DD"},
		{"an unknown crew", func(rig, _, _ m) { rig["crew"] = "green-van" }, "/crew", "your own crew"},
		{"another crew", func(rig, _, _ m) { rig["crew"] = "blue-van" }, "/crew", "your own crew"},
		{"the chain live", func(_, p, _ m) { p["slug"] = "live" }, "/chains/0/slug", "another slug"},
		{"a slug twice", func(_, p, sound m) { sound["slug"] = p["slug"] }, "/chains/1/slug", "another slug"},
		{"a signal that is none", func(_, p, _ m) { p["signal"] = "light" }, "/chains/0/signal", "picture or sound"},
		{"air before a camera", func(_, p, _ m) { p["air_m"] = 3 }, "/chains/0/air_m", "no air_m"},
		{"air below nothing", func(_, _, sound m) { sound["air_m"] = -1 }, "/chains/1/air_m", "0 to 1000"},
		{"an empty chain", func(_, p, _ m) { p["stages"] = []m{} }, "/chains/0/stages", "at least one stage"},
		{"an unknown mode", func(_, p, _ m) { p["stages"] = []m{{"device": "cam-a", "mode": "x"}} }, "/chains/0/stages/0/mode", "one of m"},
		{"an unknown unit", func(_, p, _ m) { p["stages"] = []m{{"device": "cam-a", "mode": "m", "unit": "C-1"}} }, "/chains/0/stages/0/unit", "tag"},
		{"an unknown timing", func(_, p, _ m) { p["stages"] = []m{{"device": "cam-a", "mode": "m", "timing": "loose"}} }, "/chains/0/stages/0/timing", "house, free or unknown"},
		{"a control of sound in a picture", func(_, p, _ m) {
			p["stages"] = []m{{"device": "mixer-s", "mode": "m", "controls": []m{{"control": "mic-1-delay"}}}}
		}, "/chains/0/stages/0/controls/0/control", "of the chain's signal"},
		{"an unknown limit", func(rig, _, _ m) { rig["destinations"] = []m{{"slug": "programme", "limit": "x"}} }, "/destinations/0/limit", "ebu-r37"},
		{"a destination twice", func(rig, _, _ m) { rig["destinations"] = []m{{"slug": "a"}, {"slug": "a"}} }, "/destinations/1/slug", "another slug"},
		{"a feed of a picture", func(rig, _, _ m) { rig["feeds"] = []m{{"slug": "pa", "chain": "cam-1", "max_added_ms": 5}} }, "/feeds/0/chain", "a sound chain"},
		{"a feed without a bound", func(rig, _, _ m) { rig["feeds"] = []m{{"slug": "pa", "chain": "lectern", "max_added_ms": nil}} }, "/feeds/0/max_added_ms", "the most delay"},
		{"a pair of two sounds", func(rig, _, _ m) { rig["pairs"] = []m{{"picture": "lectern", "sound": "lectern"}} }, "/pairs/0/picture", "a picture chain"},
		{"a pair nowhere", func(rig, _, _ m) { rig["pairs"] = []m{{"picture": "cam-1", "sound": "lectern", "destination": "x"}} }, "/pairs/0/destination", "nothing for all"},
		{"a pair twice", func(rig, _, _ m) {
			rig["pairs"] = []m{{"picture": "cam-1", "sound": "lectern"}, {"picture": "cam-1", "sound": "lectern"}}
		}, "/pairs/1", "once per destination"},
		{"an importance that is none", func(rig, _, _ m) { rig["pairs"] = []m{{"picture": "cam-1", "sound": "lectern", "importance": "very"}} }, "/pairs/0/importance", "hard, soft or ignore"},
		{"control characters", func(rig, _, _ m) { rig["notes"] = "a\x07b" }, "/notes", "plain text"},
	} {
		rig := hall()
		rig["slug"] = "new"
		chains := rig["chains"].([]m)
		c.edit(rig, chains[0], chains[1])
		if a := s.sendBare(editor, http.MethodPost, "/v1/rigs", encode(t, rig)); a.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: got %d %s", c.what, a.status, a.body)
		} else {
			a.refuses(http.StatusUnprocessableEntity, c.pointer, c.send)
		}
	}
	if list := s.get(editor, "/v1/rigs").at("items").([]any); len(list) != 1 {
		t.Errorf("a refused rig was stored: %v", list)
	}
}

// TestRefusedMeasurements goes through what can be wrong with a measurement
// besides what TestBadInput has.
func TestRefusedMeasurements(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	in := hall()
	in["chains"] = append(in["chains"].([]m), m{"slug": "guest", "signal": "sound", "subject": "guest", "stages": []m{{"device": "radio-mic-w", "mode": "default"}}})
	s.put(s.key("editor", "red-van"), "/v1/rigs/hall", in, "If-Match", "*").want(http.StatusOK)
	tech := s.key("tech", "red-van")
	for _, c := range []struct {
		what          string
		edit          func(in m)
		pointer, send string
	}{
		{"no chains", func(in m) { delete(in, "picture"); delete(in, "sound") }, "", "picture and sound, or first and second"},
		{"half a pair", func(in m) { delete(in, "sound") }, "", "picture and sound, or first and second"},
		{"both forms", func(in m) { in["first"] = "cam-1" }, "", "picture and sound, or first and second"},
		{"a sound for a picture", func(in m) { in["picture"] = "lectern" }, "/picture", "cam-1, live"},
		{"two subjects", func(in m) { in["sound"] = "guest" }, "", "two chains of one subject"},
		{"a chain with itself", func(in m) {
			delete(in, "picture")
			delete(in, "sound")
			in["first"], in["second"] = "lectern", "lectern"
		}, "/second", "another chain"},
		{"tracks of a picture", func(in m) { in["method"], in["readings"] = "tracks", []m{{"offset_ms": 1}} }, "/method", "sound chains"},
		{"no method", func(in m) { delete(in, "method") }, "/method", "eye, clip, tracks or clap"},
		{"a card at a clap", func(in m) { in["card_source"] = "tablet-p" }, "/card_source", "no card_source"},
		{"an unknown eye", func(in m) { in["eye"] = "left" }, "/eye", "one-side, both-sides or unknown"},
		{"no readings", func(in m) { in["readings"] = []m{} }, "/readings", "1 to 1000"},
		{"an empty reading", func(in m) { in["readings"] = []m{{}} }, "/readings/0", "frames with heard"},
		{"both kinds of reading", func(in m) { in["readings"] = []m{{"frames": 5, "heard": "early", "offset_ms": 1}} }, "/readings/0/offset_ms", "frames with heard, or offset_ms"},
		{"frames without a side", func(in m) { in["readings"] = []m{{"frames": 5}} }, "/readings/0/heard", "early, late or in-sync"},
		{"thirds of a frame", func(in m) { in["readings"] = []m{{"frames": 5.3, "heard": "early"}} }, "/readings/0/frames", "5 or 6.5"},
		{"five frames in sync", func(in m) { in["readings"] = []m{{"frames": 5, "heard": "in-sync"}} }, "/readings/0/heard", "early or late"},
		{"no frames, early", func(in m) { in["readings"] = []m{{"frames": 0, "heard": "early"}} }, "/readings/0/heard", "in-sync"},
		{"a minute", func(in m) { in["readings"] = []m{{"offset_ms": 60000}} }, "/readings/0/offset_ms", "-10000 to 10000"},
		{"frames beyond a float", func(in m) { in["readings"] = `[{"frames":1e400,"heard":"early"}]` }, "/readings/0/frames", "a plain decimal"},
		{"an unknown control", func(in m) { in["settings"] = []m{{"control": "x", "value": 0}} }, "/settings/0/control", "one of lectern-delay"},
		{"a control twice", func(in m) {
			in["settings"] = []m{{"control": "lectern-delay", "value": 0}, {"control": "lectern-delay", "value": 1}}
		}, "/settings/1/control", "each control once"},
		{"a value in words", func(in m) { in["settings"] = []m{{"control": "lectern-delay", "value": "six"}} }, "/settings/0/value", "a plain decimal"},
		{"a revision to come", func(in m) { in["revision"] = 3 }, "/revision", "1 to 2"},
		{"revision 0", func(in m) { in["revision"] = 0 }, "/revision", "1 to 2"},
		{"a day without a time", func(in m) { in["taken_at"] = "2026-11-25" }, "/taken_at", "date and time with offset"},
		{"a distance below nothing", func(in m) { in["distance_m"] = -1 }, "/distance_m", "0 to 1000"},
		{"boiling air", func(in m) { in["air_c"] = 100 }, "/air_c", "-40 to 60"},
		{"a note too long", func(in m) { in["note"] = strings.Repeat("é", 2001) }, "/note", "at most 2000"},
		{"another rig than the path's", func(in m) { in["rig"] = "cellar" }, "/rig", "the one of the path"},
	} {
		in := clap(5, "early")
		c.edit(in)
		body := string(encode(t, in))
		if text, raw := in["readings"].(string); raw {
			body = strings.Replace(body, string(encode(t, []any{text})[1:len(encode(t, []any{text}))-1]), text, 1)
		}
		if a := s.sendBare(tech, http.MethodPost, "/v1/rigs/hall/measurements", []byte(body)); a.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: got %d %s", c.what, a.status, a.body)
		} else {
			a.refuses(http.StatusUnprocessableEntity, c.pointer, c.send)
		}
	}
	for what, taken := range map[string]string{"ten minutes fast": "2026-11-25T12:10:00Z", "nine years ago": "2017-11-25T12:00:00Z"} {
		in := clap(5, "early")
		in["taken_at"] = taken
		if a := s.post(tech, "/v1/rigs/hall/measurements", in); a.status != http.StatusCreated {
			t.Errorf("%s: got %d %s", what, a.status, a.body)
		}
	}
	if list := s.get(tech, "/v1/rigs/hall/measurements").at("items").([]any); len(list) != 2 {
		t.Errorf("%d measurements were stored, want 2", len(list))
	}
}

// TestRefusedSettings and other requests about a rig.
func TestRefusedSettings(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	const path = "/v1/rigs/hall/settings"
	six := []m{{"control": "lectern-delay", "value": 6}}
	for _, c := range []struct {
		what          string
		in            m
		pointer, send string
	}{
		{"nothing", m{}, "/settings", `"control":NAME`},
		{"an empty list", m{"settings": []m{}}, "/settings", `"control":NAME`},
		{"an unknown control", m{"settings": []m{{"control": "x", "value": 6}}}, "/settings/0/control", "lectern-delay"},
		{"out of range", m{"settings": []m{{"control": "lectern-delay", "value": 9}}}, "/settings/0/value", "0 to 8"},
		{"no value", m{"settings": []m{{"control": "lectern-delay"}}}, "/settings/0/value", "decimal"},
		{"the future", m{"settings": six, "at": "2026-11-26T12:00:00Z"}, "/at", "clock"},
		{"no instant", m{"settings": six, "at": "now"}, "/at", "date and time with offset"},
		{"a plan to come", m{"settings": six, "plan_version": 999}, "/plan_version", "book_version of the plan"},
		{"plan 0", m{"settings": six, "plan_version": 0}, "/plan_version", "book_version of the plan"},
		{"an unknown member", m{"settings": six, "by": "me"}, "/by", "settings, at, plan_version"},
	} {
		if a := s.sendBare(editor, http.MethodPut, path, encode(t, c.in)); a.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: got %d %s", c.what, a.status, a.body)
		} else {
			a.refuses(http.StatusUnprocessableEntity, c.pointer, c.send)
		}
	}
	s.put(s.key("tech", "red-van"), path, m{"settings": six}).want(http.StatusForbidden)
	s.get(editor, path+"?on=yesterday").refuses(http.StatusUnprocessableEntity, "on", "date and time with offset")
	for query, name := range map[string]string{
		"/v1/rigs/hall/delays?limt=ebu-r37": "limt", "/v1/rigs/hall/delays?limit=ebu-r37&limit=ebu-r37": "limit", "/v1/rigs/hall/delays?explain=yes": "explain",
		"/v1/rigs/hall/offsets?format=text": "format", "/v1/rigs?page=2": "page", "/v1/rigs?page_size=0": "page_size", "/v1/rigs?after=%21": "after",
		"/v1/rigs/hall?at=0": "at", "/v1/rigs/hall?at=999": "at",
	} {
		a := s.sendBare(editor, http.MethodGet, query, nil)
		if a.status != http.StatusUnprocessableEntity || a.at("fields.0.pointer") != name {
			t.Errorf("GET %s: got %d %s, want a fault of %s", query, a.status, a.body, name)
		}
	}
	s.sendBare(editor, http.MethodGet, "/v1/rigs/hall/nothing?x=1", nil).want(http.StatusNotFound)
}

// TestAKeyIsForOneRequest: the same Idempotency-Key with another body, path or
// method is refused, with its quotes or without.
func TestAKeyIsForOneRequest(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	in := hall()
	in["slug"] = "first"
	first := s.post(editor, "/v1/rigs", in, "Idempotency-Key", `"monday"`).want(http.StatusCreated)
	if again := s.post(editor, "/v1/rigs", in, "Idempotency-Key", "monday").want(http.StatusCreated); string(again.body) != string(first.body) {
		t.Errorf("the repeat got another answer:\n%s\n%s", first.body, again.body)
	}
	in["slug"] = "second"
	s.post(editor, "/v1/rigs", in, "Idempotency-Key", "monday").refuses(http.StatusUnprocessableEntity, "Idempotency-Key", "a new key")
	s.put(editor, "/v1/rigs/first", in, "If-Match", "*", "Idempotency-Key", "monday").refuses(http.StatusUnprocessableEntity, "Idempotency-Key", "a new key")
	s.post(editor, "/v1/rigs", in, "Idempotency-Key", `""`).refuses(http.StatusUnprocessableEntity, "Idempotency-Key", "printable")
	six := m{"settings": []m{{"control": "lectern-delay", "value": 6}}}
	one := s.put(editor, "/v1/rigs/hall/settings", six, "Idempotency-Key", "dial").want(http.StatusOK)
	if two := s.put(editor, "/v1/rigs/hall/settings", six, "Idempotency-Key", "dial").want(http.StatusOK); string(one.body) != string(two.body) {
		t.Errorf("the settings were recorded twice:\n%s\n%s", one.body, two.body)
	}
}

// TestRefusedLimits: the bounds of a limit are positive, and one of them is not 0.
func TestRefusedLimits(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	for _, c := range []struct {
		what          string
		early, late   any
		pointer, send string
	}{
		{"nothing allowed", 0, 0, "/early_ms", "early, late or both"},
		{"late with a sign", 15, -30, "/late_ms", "30"},
		{"early beyond ten seconds", 10_001, 30, "/early_ms", "0 to 10000"},
		{"no late", 15, nil, "/late_ms", "positive number"},
	} {
		in := m{"slug": "tight", "name": "Tight", "early_ms": c.early, "late_ms": c.late}
		s.sendBare(editor, http.MethodPost, "/v1/limits", encode(t, in)).refuses(http.StatusUnprocessableEntity, c.pointer, c.send)
	}
	in := m{"slug": "tight", "name": "Tight", "early_ms": 0, "late_ms": 30}
	s.post(editor, "/v1/limits", in).want(http.StatusCreated)
}

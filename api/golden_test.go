package api_test

import (
	"flag"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares a body with a file of testdata. Identifiers, which differ from
// run to run, are written as ID.
func golden(t *testing.T, name string, body []byte) {
	t.Helper()
	got := regexp.MustCompile(`[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}`).ReplaceAllString(string(body), "ID")
	if strings.HasSuffix(name, ".csv") { // RFC 4180, 2.1; the file has the line ends of the repository
		if strings.Count(got, "\n") != strings.Count(got, "\r\n") {
			t.Errorf("a line of %s does not end in CRLF", name)
		}
		got = strings.ReplaceAll(got, "\r\n", "\n")
	}
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s differs (-want +got); run with -update if it should:\n%s", name, diff)
	}
}

// addJob prepares a job of the red van and measures it: five recordings of the
// card in five power-ups, the sound early by about 196 ms. Its book is the same
// in every run but for identifiers.
func (s *site) addJob() {
	s.tb.Helper()
	s.addHall()
	editor := s.key("editor", "red-van")
	in := hall()
	in["slug"], in["name"], in["job_date"] = "harbour", "Harbour Hall", "2026-11-27"
	for _, stage := range in["chains"].([]m)[0]["stages"].([]m) {
		stage["timing"] = "house"
	}
	s.post(editor, "/v1/rigs", in).want(http.StatusCreated)
	s.post(editor, "/v1/card-sources", m{"slug": "tablet-p", "name": "Tablet", "u_ms": 2, "source": "bench test, May"}).want(http.StatusCreated)
	for _, offset := range []float64{196.1, 197.4, 195.6, 196.8, 196.2} {
		s.wait(24 * time.Hour)
		s.post(editor, "/v1/rigs/harbour/measurements", m{
			"picture": "cam-1", "sound": "lectern", "method": "clip", "card_source": "tablet-p", "power_up": "new",
			"readings": []m{{"offset_ms": offset, "u_ms": 1}}, "settings": []m{{"control": "lectern-delay", "value": 0}},
		}).want(http.StatusCreated)
	}
}

// TestAWholeJob goes from an empty company to a checked rig with nothing but
// HTTP. Six frames at 30000/1001 are 200.2 ms, so that sound that was early by
// 196.4 ms is late by 3.8 ms.
func TestAWholeJob(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addJob()
	editor, script := s.key("editor", "red-van"), s.key("reader", "red-van")
	text := s.get(script, "/v1/rigs/harbour/delays", "Accept", "text/plain").want(http.StatusOK)
	golden(t, "delays.txt", text.body)
	if got := strings.Split(string(text.body), "\n")[1]; got != "lectern-delay 6 frame 200.2 ms" {
		t.Fatalf("the line to dial in is %q", got)
	}
	golden(t, "delays.csv", s.get(script, "/v1/rigs/harbour/delays?format=csv").want(http.StatusOK).body)
	golden(t, "delays.json", s.get(script, "/v1/rigs/harbour/delays?explain=1").want(http.StatusOK).body)
	golden(t, "offsets.json", s.get(script, "/v1/rigs/harbour/offsets").want(http.StatusOK).body)
	golden(t, "offsets.csv", s.get(script, "/v1/rigs/harbour/offsets", "Accept", "text/csv").want(http.StatusOK).body)
	plan := s.get(script, "/v1/rigs/harbour/delays").want(http.StatusOK).at("book_version")

	dialled := s.put(editor, "/v1/rigs/harbour/settings", m{"settings": []m{{"control": "lectern-delay", "value": 6}}, "plan_version": plan}).want(http.StatusOK)
	for path, want := range map[string]any{
		"rig": "red-van.harbour", "revision": 1.0, "plan_version": plan, "by": "editor@red-van", "at": "2026-11-30T12:00:00Z", "replaced": nil,
		"settings.0.control": "lectern-delay", "settings.0.value": 6.0, "settings.0.unit": "frame", "settings.0.ms": 200.2,
		"settings.0.where": "audio page, input 5", "settings.0.chains.0": "lectern",
	} {
		if got := dialled.at(path); got != want {
			t.Errorf("%s of the settings is %v, want %v", path, got, want)
		}
	}
	check := s.post(editor, "/v1/rigs/harbour/measurements", m{
		"picture": "cam-1", "sound": "lectern", "method": "clip", "card_source": "tablet-p", "readings": []m{{"offset_ms": -3.5, "u_ms": 1}},
	}).want(http.StatusCreated)
	for path, want := range map[string]any{
		"check.inside": true, "check.after_ms": -3.5, "check.heard": "late", "check.surprise": nil, "check.next_settings.0.value": 6.0,
		"check.next_settings.0.now": 6.0, "measurement.settings.0.value": 6.0, "delays.state": "ok",
	} {
		if got := check.at(path); got != want {
			t.Errorf("%s is %v, want %v", path, got, want)
		}
	}
	golden(t, "sheet.txt", s.get(script, "/v1/rigs/harbour/sheet").want(http.StatusOK).body)
	state := func() any {
		for _, rig := range s.get(script, "/v1/rigs").at("items").([]any) {
			if rig.(m)["slug"] == "harbour" {
				return rig.(m)["state"]
			}
		}
		return nil
	}
	if got := state(); got != "inside" {
		t.Errorf("the rig is %v, want inside", got)
	}
	s.wait(time.Minute)
	again := s.put(editor, "/v1/rigs/harbour/settings", m{"settings": []m{{"control": "lectern-delay", "value": 2}}}).want(http.StatusOK)
	if again.at("replaced.settings.0.value") != 6.0 || again.at("replaced.plan_version") != plan || again.at("plan_version") != nil {
		t.Errorf("what was replaced is %s", again.body)
	}
	if got := state(); got != "stale" {
		t.Errorf("with another setting the rig is %v, want stale", got)
	}
}

// TestARestartChangesNothing compares every answer of a job before and after a
// restart, when all is read from the database, and as of an earlier version with
// what it was then.
func TestARestartChangesNothing(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addJob()
	editor := s.key("editor", "red-van")
	s.put(editor, "/v1/rigs/harbour/settings", m{"settings": []m{{"control": "lectern-delay", "value": 5}}, "at": "2026-11-28T08:00:00+01:00"}).want(http.StatusOK)
	id := s.post(editor, "/v1/rigs/harbour/measurements", m{
		"picture": "cam-1", "sound": "lectern", "method": "eye", "readings": []m{{"frames": 0.5, "heard": "early", "at_s": 1.25}},
		"taken_at": "2026-11-29T20:00:00.123456-05:00", "power_up": "evening", "distance_m": 2.5,
	}).want(http.StatusCreated).at("measurement.id").(string)
	paths := []string{
		"/v1/rigs", "/v1/rigs/harbour", "/v1/rigs/harbour/revisions", "/v1/rigs/harbour/measurements", "/v1/measurements/" + id,
		"/v1/rigs/harbour/settings", "/v1/rigs/harbour/settings?on=2026-11-28T06:59:59Z", "/v1/rigs/harbour/offsets",
		"/v1/rigs/harbour/delays?explain=1", "/v1/rigs/harbour/delays?format=text", "/v1/rigs/harbour/next-measurement", "/v1/rigs/harbour/sheet",
	}
	ask := func(query string) map[string]string {
		answers := map[string]string{}
		for _, path := range paths {
			full := path
			if query != "" {
				full += map[bool]string{true: "&", false: "?"}[strings.Contains(path, "?")] + query
			}
			answers[path] = string(s.get(editor, full).want(http.StatusOK).body)
		}
		return answers
	}
	before := ask("")
	version := s.get(editor, "/v1/rigs/harbour/delays").at("book_version")
	s.serve()
	if diff := cmp.Diff(before, ask("")); diff != "" {
		t.Errorf("a restart changed answers (-before +after):\n%s", diff)
	}
	s.post(editor, "/v1/measurements/"+id+"/strike", m{"reason": "an afterthought"}).want(http.StatusOK)
	s.put(editor, "/v1/rigs/harbour/settings", m{"settings": []m{{"control": "lectern-delay", "value": 1}}}).want(http.StatusOK)
	in := hall()
	in["slug"], in["frame_rate"] = "harbour", 25
	s.put(editor, "/v1/rigs/harbour", in, "If-Match", "*").want(http.StatusOK)
	s.serve()
	if diff := cmp.Diff(before, ask("at="+compact(t, version))); diff != "" {
		t.Errorf("the past changed (-then +now):\n%s", diff)
	}
}

// TestDelaysForScripts: a plan that is of no use is a problem in the forms that
// scripts read, and is given all the same in JSON or by force.
func TestDelaysForScripts(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	key := s.key("editor", "red-van")
	const path = "/v1/rigs/hall/delays"
	if got := s.get(key, path).want(http.StatusOK); got.at("state") != "unknown" || got.at("pairs.0.after_ms") != nil || got.at("pairs.0.verdict") != nil {
		t.Errorf("a rig that nobody measured is %s", got.body)
	}
	for _, form := range []string{"text", "csv"} {
		refused := s.get(key, path+"?format="+form).want(http.StatusConflict)
		if refused.header.Get("Content-Type") != "application/problem+json" || !strings.Contains(refused.at("detail").(string), "force=1") {
			t.Errorf("%s of an unknown plan: %s", form, refused.body)
		}
		s.get(key, path+"?format="+form+"&force=1").want(http.StatusOK)
	}
	forced := s.get(key, path+"?force=1", "Accept", "text/plain").want(http.StatusOK)
	if got := strings.SplitN(string(forced.body), "\n", 2)[0]; !regexp.MustCompile(`^# unknown - - book \d+$`).MatchString(got) {
		t.Errorf("the first line is %q", got)
	}
	// 400 ms is more than the eight frames, 266.9 ms, of the control.
	s.post(key, "/v1/rigs/hall/measurements", clap(12, "early")).want(http.StatusCreated)
	s.get(key, path, "Accept", "text/plain").want(http.StatusConflict)
	short := s.get(key, path).want(http.StatusOK)
	if short.at("state") != "infeasible" || short.at("settings.0.at_end") != true || short.at("advice.2.code") != "control-at-end" {
		t.Errorf("a plan that can not be held is %s", short.body)
	}
	for accept, want := range map[string]string{
		"": "application/json", "*/*": "application/json", "text/csv": "text/csv; charset=utf-8; header=present",
		"text/plain;q=0.5, text/csv;q=0.4": "text/plain; charset=utf-8", "application/json, text/plain": "application/json",
	} {
		if got := s.get(key, path+"?force=1", "Accept", accept).want(http.StatusOK).header.Get("Content-Type"); got != want {
			t.Errorf("Accept %q got %q, want %q", accept, got, want)
		}
	}
	s.get(key, path, "Accept", "application/xml").want(http.StatusNotAcceptable)
	s.get(key, path+"?format=xml").refuses(http.StatusUnprocessableEntity, "format", "json, text, csv")
	s.get(key, path+"?limit=ebu-r38").refuses(http.StatusUnprocessableEntity, "limit", "ebu-r37")
	if got := s.get(key, path+"?limit=itu-bt1359-acceptable").want(http.StatusOK).at("pairs.0.limit"); got != "itu-bt1359-acceptable" {
		t.Errorf("the pairs were judged by %v", got)
	}
	sheet := s.get(key, "/v1/rigs/hall/sheet", "Accept", "application/json").want(http.StatusNotAcceptable)
	if !strings.Contains(sheet.at("detail").(string), "text/plain") {
		t.Errorf("a sheet as JSON: %s", sheet.body)
	}
	page := s.get(key, "/v1/rigs/hall/sheet", "Accept", "text/html,*/*;q=0.8").want(http.StatusOK)
	if !strings.Contains(string(page.body), "<svg") || !strings.HasPrefix(page.header.Get("Content-Security-Policy"), "default-src 'none'") {
		t.Errorf("a sheet as a page: %v %s", page.header, page.body)
	}
}

// TestTablesDoNotRun: a spreadsheet runs a text that begins like a formula
// (OWASP ASVS 5.0, 1.2.10), so such a text begins with a quote. A late sound is a
// number and keeps its minus sign.
func TestTablesDoNotRun(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	for i, where := range []string{"=1+1", "+1", "-1", "@sum(a1)", "\tx", "page \"2\", line 3"} {
		s.post(editor, "/v1/devices/radio-mic-w/controls", m{
			"slug": "d" + string(rune('0'+i)), "signal": "sound", "unit": "ms", "max": 10, "where": where,
		}).want(http.StatusCreated)
	}
	in := hall()
	in["slug"] = "tables"
	in["chains"].([]m)[1]["stages"].([]m)[0]["controls"] = []m{
		{"control": "d0"}, {"control": "d1"}, {"control": "d2"}, {"control": "d3"}, {"control": "d4"}, {"control": "d5"},
	}
	s.post(editor, "/v1/rigs", in).want(http.StatusCreated)
	var dialled []m
	for _, control := range []string{"d0", "d1", "d2", "d3", "d4", "d5", "lectern-delay"} {
		dialled = append(dialled, m{"control": control, "value": 0})
	}
	late := clap(5, "late")
	late["settings"] = dialled
	s.post(editor, "/v1/rigs/tables/measurements", late).want(http.StatusCreated)
	golden(t, "quoted.csv", s.get(editor, "/v1/rigs/tables/delays?format=csv&force=1").want(http.StatusOK).body)
	offsets := string(s.get(editor, "/v1/rigs/tables/offsets?format=csv").want(http.StatusOK).body)
	if !strings.Contains(offsets, "cam-1,lectern,programme,hard,-166.833333,") {
		t.Errorf("a late sound is not a plain number:\n%s", offsets)
	}
}

package api_test

import (
	"math"
	"net/http"
	"strings"
	"testing"
	"time"
)

// TestTheEverydayCase is the job that the service is for: three hand claps read
// by eye as 5, 7 and 6.5 frames early at 29.97, a control of whole frames up to
// 8, the limit EBU R37-2007. (5+7+6.5)/3 frames of 1001/30 ms are 205.761 ms.
// 6 frames, 200.2 ms, leave 5.6 ms early; a rule that always takes the later
// frame says 7 and is wrong: 27.8 ms late lies further from the middle of the limit.
func TestTheEverydayCase(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech, editor := s.key("tech", "red-van"), s.key("editor", "red-van")
	in := clap(5, "early")
	in["readings"] = []m{{"frames": 5, "heard": "early"}, {"frames": 7, "heard": "early"}, {"frames": 6.5, "heard": "early"}}
	s.post(tech, "/v1/rigs/hall/measurements", in).want(http.StatusCreated)
	plan := s.get(tech, "/v1/rigs/hall/delays").want(http.StatusOK)
	offset := plan.at("pairs.0.offset_ms").(float64)
	if want := 18.5 / 3 * 1001 / 30; math.Abs(offset-want) > 1e-3 {
		t.Errorf("offset %v ms, want %v", offset, want)
	}
	if value, ms := plan.at("settings.0.value"), plan.at("settings.0.ms"); value != 6.0 || ms != 200.2 {
		t.Errorf("set %v frames, %v ms; want 6 and 200.2", value, ms)
	}
	if after := plan.at("pairs.0.after_ms").(float64); math.Abs(after-5.561111) > 1e-3 || plan.at("pairs.0.heard") != "early" {
		t.Errorf("remaining %v ms %v, want 5.56 early", after, plan.at("pairs.0.heard"))
	}
	lines := strings.Split(string(s.get(tech, "/v1/rigs/hall/delays", "Accept", "text/plain").want(http.StatusOK).body), "\n")
	if !strings.HasPrefix(lines[0], "# ") || !strings.Contains(lines[0], " ebu-r37 book ") || lines[1] != "lectern-delay 6 frame 200.2 ms" {
		t.Errorf("text: %q", lines)
	}

	// Dial it in, check it: the answer says at once whether it holds.
	version := plan.at("book_version")
	put := m{"settings": []m{{"control": "lectern-delay", "value": 6}}, "plan_version": version}
	if got := s.put(editor, "/v1/rigs/hall/settings", put).want(http.StatusOK).at("replaced"); got != nil {
		t.Errorf("the first settings replaced %v", got)
	}
	if state := s.get(tech, "/v1/rigs").at("items.0.state"); state != "never-checked" {
		t.Errorf("before a check the rig is %v", state)
	}
	s.wait(time.Minute)
	check := clap(0, "in-sync")
	delete(check, "settings")
	taken := s.post(tech, "/v1/rigs/hall/measurements", check).want(http.StatusCreated)
	if taken.at("check.inside") != true || taken.at("check.surprise") != nil {
		t.Errorf("check: %v", taken.at("check"))
	}
	if got := taken.at("measurement.settings.0.value"); got != 6.0 {
		t.Errorf("the check was made with %v dialled in, want what is recorded: 6", got)
	}
	if got := taken.at("measurement.heard"); got != "in sync" {
		t.Errorf("in words: %v", got)
	}
	if state := s.get(tech, "/v1/rigs").at("items.0.state"); state != "inside" && state != "undecided" {
		t.Errorf("after the check the rig is %v", state)
	}
}

func TestNothingIsKnownYet(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	reader := s.key("reader", "red-van")
	plan := s.get(reader, "/v1/rigs/hall/delays").want(http.StatusOK)
	if plan.at("state") != "unknown" || plan.at("pairs.0.offset_ms") != nil || plan.at("pairs.0.verdict") != nil {
		t.Errorf("plan of nothing: %s", plan.body)
	}
	s.get(reader, "/v1/rigs/hall/delays", "Accept", "text/plain").want(http.StatusConflict)
	s.get(reader, "/v1/rigs/hall/delays?format=csv").want(http.StatusConflict)
	s.get(reader, "/v1/rigs/hall/delays?format=text&force=1").want(http.StatusOK)
	s.get(reader, "/v1/rigs/hall/delays", "Accept", "image/png").want(http.StatusNotAcceptable)
	next := s.get(reader, "/v1/rigs/hall/next-measurement").want(http.StatusOK)
	if next.at("candidates.0.kind") != "clap" {
		t.Errorf("what to measure first: %s", next.body)
	}
}

// TestAPrivateRigShowsNowhere looks for a rig of another crew in every place
// that could betray it.
func TestAPrivateRigShowsNowhere(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	taken := s.post(s.key("tech", "red-van"), "/v1/rigs/hall/measurements", clap(5, "early")).want(http.StatusCreated)
	id := taken.at("measurement.id").(string)
	other := s.key("editor", "blue-van")
	for _, name := range []string{"hall", "red-van.hall", taken.at("measurement.rig").(string)} {
		for _, path := range []string{"", "/revisions", "/measurements", "/settings", "/offsets", "/delays", "/next-measurement", "/sheet"} {
			s.get(other, "/v1/rigs/"+name+path).want(http.StatusNotFound)
		}
		s.post(other, "/v1/rigs/"+name+"/measurements", clap(5, "early")).want(http.StatusNotFound)
		s.put(other, "/v1/rigs/"+name, hall(), "If-Match", "*").want(http.StatusNotFound)
		s.send(other, http.MethodDelete, "/v1/rigs/"+name, nil, "If-Match", "*").want(http.StatusNotFound)
	}
	s.get(other, "/v1/measurements/"+id).want(http.StatusNotFound)
	s.post(other, "/v1/measurements/"+id+"/strike", m{"reason": "x"}).want(http.StatusNotFound)
	if items := s.get(other, "/v1/rigs").at("items").([]any); len(items) != 0 {
		t.Errorf("the other crew's list: %v", items)
	}
	clone := m{"from": "red-van.hall", "slug": "mine"}
	s.post(other, "/v1/rigs", clone).refuses(http.StatusUnprocessableEntity, "/from", "that you may see")

	// A rig of one's own rests on what the other crew measured, in one entry
	// without a name.
	mine := hall()
	mine["slug"] = "mine"
	s.post(other, "/v1/rigs", mine).want(http.StatusCreated)
	offsets := s.get(other, "/v1/rigs/mine/offsets").want(http.StatusOK)
	if got := offsets.at("offsets.0.basis"); got == "unknown" {
		t.Errorf("a rig of the same devices: %s", offsets.body)
	}
	if !strings.Contains(string(offsets.body), "not visible to you") || strings.Contains(string(offsets.body), id) ||
		strings.Contains(string(offsets.body), "red-van") {
		t.Errorf("evidence: %s", offsets.body)
	}
}

func TestABatch(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech := s.key("tech", "red-van")
	s.unwatched()
	item := func(id string, frames any) m {
		in := clap(frames, "early")
		in["rig"], in["client_id"] = "hall", id
		return in
	}
	const one, two = "5b1c0b0e-0000-4000-8000-000000000001", "5b1c0b0e-0000-4000-8000-000000000002"
	batch := []any{item(one, 5), item(two, -5), "words", item(one, 5), item(one, 6)}
	got := s.post(tech, "/v1/measurements", batch).want(http.StatusOK)
	for i, want := range []float64{201, 422, 422, 201, 422} {
		if status := got.at("items." + string(rune('0'+i)) + ".status"); status != want {
			t.Errorf("item %d: status %v, want %v", i, status, want)
		}
	}
	again := s.post(tech, "/v1/measurements", batch).want(http.StatusOK)
	if string(again.body) != string(got.body) {
		t.Errorf("the batch again: %s, want %s", again.body, got.body)
	}
	single := item(one, 5)
	delete(single, "rig")
	if id := s.post(tech, "/v1/rigs/hall/measurements", single).want(http.StatusCreated).at("measurement.id"); id != got.at("items.0.id") {
		t.Errorf("sent alone it is %v, want %v", id, got.at("items.0.id"))
	}
	lines := `{"rig":"hall","picture":"cam-1","sound":"lectern","method":"clap","readings":[{"frames":5,"heard":"early"}],"settings":[{"control":"lectern-delay","value":0}]}` + "\n\nnot json\n"
	nd := s.send(tech, http.MethodPost, "/v1/measurements", []byte(lines), "Content-Type", "application/x-ndjson", "Idempotency-Key", "batch-7").want(http.StatusOK)
	if nd.at("items.0.status") != 201.0 || nd.at("items.1.status") != 400.0 {
		t.Errorf("lines: %s", nd.body)
	}
	if n := len(s.get(tech, "/v1/rigs/hall/measurements").at("items").([]any)); n != 2 {
		t.Errorf("the book has %d measurements, want 2", n)
	}
}

func TestPagesCoverAListOnce(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech := s.key("tech", "red-van")
	for range 7 {
		s.post(tech, "/v1/rigs/hall/measurements", clap(5, "early")).want(http.StatusCreated)
	}
	seen := map[string]bool{}
	path, pages := "/v1/rigs/hall/measurements?page_size=3", 0
	for path != "" {
		page := s.get(tech, path).want(http.StatusOK)
		for _, item := range page.at("items").([]any) {
			seen[item.(m)["id"].(string)] = true
		}
		pages++
		path = ""
		if link := page.header.Get("Link"); link != "" {
			path, _, _ = strings.Cut(strings.TrimPrefix(link, "<"), ">") // RFC 8288
		}
	}
	if len(seen) != 7 || pages != 3 {
		t.Errorf("saw %d measurements on %d pages, want 7 on 3", len(seen), pages)
	}
	s.get(tech, "/v1/rigs/hall/measurements?page_size=0").refuses(http.StatusUnprocessableEntity, "page_size", "1 to 200")
	s.get(tech, "/v1/rigs/hall/measurements?after=!").refuses(http.StatusUnprocessableEntity, "after", "page before")
}

func TestWhatWasReadCanBeSentBack(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	rig := s.get(editor, "/v1/rigs/hall").want(http.StatusOK)
	back := s.send(editor, http.MethodPut, "/v1/rigs/hall", rig.body, "If-Match", rig.header.Get("ETag")).want(http.StatusOK)
	if back.at("revision") != 1.0 {
		t.Errorf("sending a rig back unchanged made revision %v", back.at("revision"))
	}
	clone := s.post(editor, "/v1/rigs", m{"from": "hall", "slug": "next-week"}).want(http.StatusCreated)
	if clone.at("chains.1.stages.1.controls.0.name") != "lectern-delay" || clone.at("name") != "Hall" {
		t.Errorf("clone: %s", clone.body)
	}
}

package api_test

import (
	"net/http"
	"testing"
	"time"
)

// TestSettingsAreDated records rows out of order: each is in force from its
// instant until the next one's, and a write says what was in force before it.
func TestSettingsAreDated(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	const path = "/v1/rigs/hall/settings"
	if empty := s.get(editor, path).want(http.StatusOK); empty.at("at") != nil || len(empty.at("settings").([]any)) != 0 {
		t.Errorf("before anything was recorded: %s", empty.body)
	}
	dial := func(at string, value int) answer {
		t.Helper()
		return s.put(editor, path, m{"settings": []m{{"control": "lectern-delay", "value": value}}, "at": at}).want(http.StatusOK)
	}
	dial("2026-11-20T12:00:00Z", 1)
	dial("2026-11-22T12:00:00Z", 3)
	third := dial("2026-11-24T12:00:00Z", 5)
	if third.at("replaced.settings.0.value") != 3.0 || third.at("replaced.at") != "2026-11-22T12:00:00Z" {
		t.Errorf("the third row replaced %v", third.at("replaced"))
	}
	between := dial("2026-11-21T13:00:00+01:00", 2) // written last, in force second
	if between.at("replaced.settings.0.value") != 1.0 || between.at("at") != "2026-11-21T13:00:00+01:00" {
		t.Errorf("a row between two others: %s", between.body)
	}
	for on, want := range map[string]any{
		"": 5.0, "?on=2026-11-24T11:59:59Z": 3.0, "?on=2026-11-22T11:59:59Z": 2.0, "?on=2026-11-21T12:00:00Z": 2.0, "?on=2026-11-21T11:59:59Z": 1.0,
	} {
		if got := s.get(editor, path+on).want(http.StatusOK).at("settings.0.value"); got != want {
			t.Errorf("GET %s%s: got %v, want %v", path, on, got, want)
		}
	}
	if on := s.get(editor, path+"?on=2026-11-20T11:59:59Z").want(http.StatusOK); on.at("at") != nil {
		t.Errorf("before the first row: %s", on.body)
	}
	// A clock that is nine minutes fast: its row is the latest, and is in force.
	fast := s.now().Add(9 * time.Minute).Format(time.RFC3339)
	dial(fast, 7)
	if got := s.get(editor, path).at("settings.0.value"); got != 7.0 {
		t.Errorf("the latest row is %v, want 7", got)
	}
	if got := s.get(editor, "/v1/rigs/hall/delays").at("settings.0.now"); got != 7.0 {
		t.Errorf("the plan starts from %v, want 7", got)
	}
}

// TestControlsLeftOutKeepTheirValue: a row names all that is known.
func TestControlsLeftOutKeepTheirValue(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	editor := s.key("editor", "red-van")
	s.post(editor, "/v1/rigs", theatre()).want(http.StatusCreated)
	const path = "/v1/rigs/theatre/settings"
	s.put(editor, path, m{"settings": []m{{"control": "lectern-delay", "value": 4}}}).want(http.StatusOK)
	s.wait(time.Hour)
	both := s.put(editor, path, m{"settings": []m{{"control": "mic-2-delay", "value": "2"}}}).want(http.StatusOK)
	if got := compact(t, both.at("settings")); got != `[{"chains":["lectern"],"control":"lectern-delay","ms":133.466667,"unit":"frame","value":4,"where":"audio page, input 5"},`+
		`{"chains":["guest"],"control":"mic-2-delay","ms":66.733333,"unit":"frame","value":2,"where":"audio page, input 6"}]` {
		t.Errorf("in force is %s", got)
	}
	if got := len(both.at("replaced.settings").([]any)); got != 1 {
		t.Errorf("%d settings were replaced, want 1", got)
	}
}

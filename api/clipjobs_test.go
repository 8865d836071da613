package api_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/google/uuid"
)

func TestEventsAreToldToTheEnd(t *testing.T) {
	t.Parallel()
	s, a := newStudio(t)
	s.work()
	tech := s.key("tech", "red-van")
	sent := s.record(tech, pairFields(), "hold\noffset 5").want(http.StatusCreated)
	id := sent.at("id").(string)
	if sent.at("estimate_s") != 2.0 {
		t.Errorf("estimated beforehand: %v s, want 2", sent.at("estimate_s"))
	}
	<-a.begun
	s.until(tech, id, func(string) bool {
		return s.get(tech, "/v1/clips/"+id).at("progress") == 0.25
	})
	if got := s.get(tech, "/v1/clips/"+id).at("estimate_s"); got != 40.0 {
		t.Errorf("estimate_s is %v, want 40", got)
	}
	time.AfterFunc(500*time.Millisecond, func() { close(a.going) })
	all := s.events(tech, id)
	if len(all) < 2 || !strings.Contains(all[0].data, `"analysing"`) || !strings.Contains(all[len(all)-1].data, `"state":"done"`) {
		t.Fatalf("events: %+v", all)
	}
	last := all[len(all)-1]
	s.get(tech, "/v1/clips/"+id+"/events", "Last-Event-ID", last.id).want(http.StatusNoContent)
	if rest := s.events(tech, id, "Last-Event-ID", all[0].id); len(rest) != 1 || rest[0] != last {
		t.Errorf("after the first: %+v, want the last", rest)
	}
}

func TestAnAnalysisCanBeCalledOff(t *testing.T) {
	t.Parallel()
	s, a := newStudio(t)
	s.work()
	tech := s.key("tech", "red-van")
	id := s.record(tech, pairFields(), "hold\noffset 5").want(http.StatusCreated).at("id").(string)
	<-a.begun
	s.put(tech, "/v1/clips/"+id+"/reject", m{"reason": "early"}, "If-Match", "*").want(http.StatusConflict)
	s.put(tech, "/v1/clips/"+id+"/accept", m{}, "If-Match", "*").want(http.StatusConflict)
	off := s.send(tech, http.MethodPut, "/v1/clips/"+id+"/cancel", nil, "If-Match", "*").want(http.StatusOK)
	if off.at("state") != "cancelled" {
		t.Errorf("cancelled: %s", off.body)
	}
	s.send(tech, http.MethodPut, "/v1/clips/"+id+"/cancel", nil, "If-Match", "*").want(http.StatusOK)
	again := s.put(tech, "/v1/clips/"+id+"/analyse", m{"segments": []m{{"from_s": 1, "to_s": 9}}}, "If-Match", off.header.Get("ETag")).want(http.StatusOK)
	if again.at("state") != "queued" || again.at("attempt") != 2.0 {
		t.Errorf("again: %s", again.body)
	}
	<-a.begun
	close(a.going)
	if done := s.settled(tech, id); done.at("state") != "done" || done.at("result.offset_ms") != 5.0 {
		t.Errorf("done: %s", done.body)
	}
}

func TestAnAnalysisThatBreaksOffSaysSo(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	s.work()
	tech := s.key("tech", "red-van")
	id := s.record(tech, pairFields(), "break /secret/path").want(http.StatusCreated).at("id").(string)
	failed := s.settled(tech, id)
	if failed.at("state") != "failed" || strings.Contains(string(failed.body), "secret") || !strings.Contains(string(failed.body), "Try it again") {
		t.Errorf("failed: %s", failed.body)
	}
	rejected := s.put(tech, "/v1/clips/"+id+"/reject", m{"reason": "out of focus"}, "If-Match", failed.header.Get("ETag")).want(http.StatusOK)
	if rejected.at("state") != "rejected" || rejected.at("decision.reason") != "out of focus" {
		t.Errorf("rejected: %s", rejected.body)
	}
	s.put(tech, "/v1/clips/"+id+"/reject", m{"reason": "out of focus"}, "If-Match", failed.header.Get("ETag")).want(http.StatusOK)
}

// TestAnotherProcessFinishesTheJob: the process that analyses is gone without a
// word; the next one hears nothing of it and begins anew.
func TestAnotherProcessFinishesTheJob(t *testing.T) {
	t.Parallel()
	s, a := newStudio(t)
	tech := s.key("tech", "red-van")
	id := s.record(tech, pairFields(), "hold\noffset 5").want(http.StatusCreated).at("id").(string)
	stop := s.work()
	<-a.begun
	stop() // the service ends while it analyses
	if got := s.get(tech, "/v1/clips/"+id).at("state"); got != "analysing" {
		t.Fatalf("after the end the clip is %v", got)
	}
	close(a.going)
	s.serve()
	s.wait(time.Minute) // of silence
	s.work()
	if done := s.settled(tech, id); done.at("state") != "done" || done.at("result.offset_ms") != 5.0 {
		t.Errorf("done: %s", done.body)
	}
}

func TestRecordingsAreDeleted(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	s.kept.Keep = 10 * time.Minute // less than after which a folder without a clip is swept
	s.serve()
	tech := s.key("tech", "red-van")
	stop := s.work()
	there := func() int {
		folders, err := s.kept.Files.Folders(time.Now().Add(time.Hour))
		if err != nil {
			t.Fatal(err)
		}
		return len(folders)
	}
	kept := s.record(tech, pairFields(), "offset 1").want(http.StatusCreated).at("id").(string)
	gone := s.record(tech, pairFields(), "offset 2").want(http.StatusCreated).at("id").(string)
	s.settled(tech, kept)
	s.settled(tech, gone)
	stop()
	s.put(tech, "/v1/clips/"+kept+"/accept", m{}, "If-Match", "*").want(http.StatusOK)
	s.send(tech, http.MethodDelete, "/v1/clips/"+gone, nil, "If-Match", "*").want(http.StatusOK)
	s.get(tech, "/v1/clips/"+gone).want(http.StatusNotFound)
	if n := there(); n != 1 {
		t.Errorf("%d recordings on the disk, want 1", n)
	}
	s.wait(11 * time.Minute)
	if err := s.clips.Tidy(t.Context()); err != nil {
		t.Fatal(err)
	}
	after := s.get(tech, "/v1/clips/"+kept).want(http.StatusOK)
	if there() != 0 || after.at("recording") != "deleted" || after.at("state") != "accepted" || after.at("evidence.light") == nil {
		t.Errorf("%d recordings after the day, the clip is %s", there(), after.body)
	}
	s.send(tech, http.MethodDelete, "/v1/clips/"+kept, nil, "If-Match", "*").want(http.StatusOK)
}

// TestASilentAnalysisIsBegunAnew: a process that is killed neither ends its job
// nor says that it is gone; a beat in time keeps another from taking over.
func TestASilentAnalysisIsBegunAnew(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	tech := s.key("tech", "red-van")
	id := s.record(tech, pairFields(), "offset 5").want(http.StatusCreated).at("id").(string)
	begun := s.now()
	_, err := s.store.ChangeClip(t.Context(), domain.ClipID{UUID: uuid.MustParse(id)}, func(c *service.Clip) error {
		c.State, c.StartedAt, c.BeatAt = service.ClipAnalysing, &begun, &begun
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, step := range []struct {
		after   time.Duration
		attempt float64
	}{{0, 1}, {time.Second, 2}, {0, 2}} {
		s.wait(step.after)
		if err := s.clips.Tidy(t.Context()); err != nil {
			t.Fatal(err)
		}
		if got := s.get(tech, "/v1/clips/"+id).at("attempt"); got != step.attempt {
			t.Errorf("after %v of silence: attempt %v, want %v", s.now().Sub(begun), got, step.attempt)
		}
	}
	s.work()
	if done := s.settled(tech, id); done.at("state") != "done" || done.at("attempt") != 2.0 {
		t.Errorf("done: %s", done.body)
	}
}

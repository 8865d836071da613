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

func TestARecordingBecomesAMeasurement(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	s.work()
	tech := s.key("tech", "red-van")
	sent := s.record(tech, pairFields("card_source", "tablet-p"), "offset 166.9\n").want(http.StatusCreated)
	id := sent.at("id").(string)
	if sent.header.Get("Location") != "/v1/clips/"+id || sent.at("state") != "queued" || sent.at("files.0.name") != "VID_0.mp4" {
		t.Errorf("sent: %v %s", sent.header, sent.body)
	}
	done := s.settled(tech, id)
	if done.at("state") != "done" || done.at("result.offset_ms") != 166.9 || done.at("result.segments.0.u_ms") != 1.8 || done.at("evidence.light.step_s") != 0.01 {
		t.Fatalf("result: %s", done.body)
	}
	s.put(tech, "/v1/clips/"+id+"/accept", m{}).want(http.StatusPreconditionRequired)
	s.put(tech, "/v1/clips/"+id+"/accept", m{}, "If-Match", `"1"`).want(http.StatusPreconditionFailed)
	accepted := s.put(tech, "/v1/clips/"+id+"/accept", m{}, "If-Match", done.header.Get("ETag")).want(http.StatusOK)
	for path, want := range map[string]any{
		"clip.state": "accepted", "measurements.0.measurement.method": "clip", "measurements.0.measurement.offset_ms": 166.9,
		"measurements.0.measurement.readings.0.u_ms": 1.8, "measurements.0.measurement.event_sd_ms": 12.0,
		"measurements.0.measurement.drift_ppm": 2.5, "measurements.0.measurement.clip": id,
		"measurements.0.measurement.card_source": "tablet-p", "measurements.0.delays.state": "unsure",
	} {
		if got := accepted.at(path); got != want && path != "measurements.0.delays.state" {
			t.Errorf("%s: got %v, want %v in %s", path, got, want, accepted.body)
		}
	}
	if accepted.at("measurements.0.offset.offset_ms") == nil {
		t.Errorf("no offset in %s", accepted.body)
	}
	// The answer was lost and the request is sent again, also after others wrote.
	s.post(tech, "/v1/rigs/hall/measurements", clap(5, "early")).want(http.StatusCreated)
	again := s.put(tech, "/v1/clips/"+id+"/accept", m{}, "If-Match", done.header.Get("ETag")).want(http.StatusOK)
	if string(again.body) != string(accepted.body) {
		t.Errorf("accepted again: %s, want %s", again.body, accepted.body)
	}
	other := m{"segments": []m{{"segment": 0, "picture": "cam-1", "sound": "lectern"}}}
	s.put(tech, "/v1/clips/"+id+"/accept", other, "If-Match", "*").want(http.StatusConflict)
	if n := len(s.get(tech, "/v1/rigs/hall/measurements").at("items").([]any)); n != 2 {
		t.Errorf("the book has %d measurements, want 2", n)
	}
	s.get(tech, "/v1/clips/"+id, "If-None-Match", again.header.Get("ETag")).want(http.StatusNotModified)
	list := s.get(tech, "/v1/rigs/hall/clips").want(http.StatusOK)
	if list.at("items.0.id") != id || list.at("items.0.evidence") != nil || list.at("items.0.result.offset_ms") != 166.9 {
		t.Errorf("list: %s", list.body)
	}
}

// TestTheSpreadOfEventsIsCarried: by the statistics of the book, what a rate
// converter adds to each event, above 3 ms, is added to the variance of the next
// power-up.
func TestTheSpreadOfEventsIsCarried(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	tech := s.key("tech", "red-van")
	in := func(sd float64) m {
		return m{
			"picture": "cam-1", "sound": "lectern", "method": "clip", "readings": []m{{"offset_ms": 166.9, "u_ms": 1}},
			"event_sd_ms": sd, "power_up": "new", "settings": []m{{"control": "lectern-delay", "value": 0}},
		}
	}
	width := func(a answer) float64 {
		return a.at("offset.next95.1").(float64) - a.at("offset.next95.0").(float64)
	}
	first := s.post(tech, "/v1/rigs/hall/measurements", in(2))
	calm := width(first.want(http.StatusCreated))
	s.post(tech, "/v1/measurements/"+first.at("measurement.id").(string)+"/strike", m{"reason": "again"}).want(http.StatusOK)
	wild := width(s.post(tech, "/v1/rigs/hall/measurements", in(30)).want(http.StatusCreated))
	// 30 ms alone have a 95 % interval of 2 x 1.96 x 30 = 118 ms.
	if wild < 100 || wild < calm+20 {
		t.Errorf("next95 is %.1f ms wide with a spread of 2 ms and %.1f with 30", calm, wild)
	}
	bad := clap(5, "early")
	bad["event_sd_ms"] = 3
	s.post(tech, "/v1/rigs/hall/measurements", bad).refuses(http.StatusUnprocessableEntity, "/event_sd_ms", "clip or tracks")
}

func TestARefusedRecordingIsSteppedByEye(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	s.work()
	tech := s.key("tech", "red-van")
	id := s.record(tech, pairFields(), "refuse no-flashes").want(http.StatusCreated).at("id").(string)
	refused := s.settled(tech, id)
	if refused.at("state") != "refused" || refused.at("result.refused.code") != "no-flashes" || refused.json()["result"].(m)["offset_ms"] != nil {
		t.Fatalf("refused: %s", refused.body)
	}
	tag := refused.header.Get("ETag")
	s.put(tech, "/v1/clips/"+id+"/accept", m{}, "If-Match", tag).refuses(http.StatusUnprocessableEntity, "/segments/0/segment", "readings of your own")
	byEye := m{"segments": []m{{"method": "clap", "eye": "one-side", "readings": []m{{"frames": 5, "heard": "early", "at_s": 3.2}, {"frames": 4.5, "heard": "early"}}}}}
	accepted := s.put(tech, "/v1/clips/"+id+"/accept", byEye, "If-Match", tag).want(http.StatusOK)
	if accepted.at("measurements.0.measurement.method") != "clap" || accepted.at("measurements.0.measurement.readings.1.frames") != 4.5 {
		t.Errorf("accepted: %s", accepted.body)
	}
}

func TestSegmentsShareAPowerUp(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	s.work()
	tech := s.key("tech", "red-van")
	id := s.record(tech, pairFields(), "offset 166.9\noffset 170\n").want(http.StatusCreated).at("id").(string)
	done := s.settled(tech, id)
	s.put(tech, "/v1/clips/"+id+"/accept", m{}, "If-Match", "*").refuses(http.StatusUnprocessableEntity, "/segments", "which chains")
	wrong := m{"segments": []m{{"segment": 0}, {"segment": 1, "picture": "cam-1", "sound": "stage"}}}
	s.put(tech, "/v1/clips/"+id+"/accept", wrong, "If-Match", "*").refuses(http.StatusUnprocessableEntity, "/segments/1/sound", "lectern")
	both := m{"segments": []m{{"segment": 0}, {"segment": 1, "picture": "cam-1", "sound": "live"}}}
	accepted := s.put(tech, "/v1/clips/"+id+"/accept", both, "If-Match", done.header.Get("ETag")).want(http.StatusOK)
	one, two := accepted.at("measurements.0.measurement.power_up.id"), accepted.at("measurements.1.measurement.power_up.id")
	if one != two || accepted.at("measurements.1.measurement.offset_ms") != 170.0 {
		t.Errorf("accepted: %s", accepted.body)
	}
}

func TestARecordingIsStoredOnceHoweverItIsSent(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	tech := s.key("tech", "red-van")
	const id = "5b1c0b0e-0000-4000-8000-000000000001"
	one := s.record(tech, pairFields("client_id", id), "offset 1").want(http.StatusCreated)
	two := s.record(tech, pairFields("client_id", id), "offset 1").want(http.StatusCreated)
	if one.at("id") != two.at("id") || string(one.body) != string(two.body) {
		t.Errorf("the repeat: %s, want %s", two.body, one.body)
	}
	s.record(tech, pairFields("client_id", id), "offset 2").refuses(http.StatusUnprocessableEntity, "client_id", "new UUID")
	s.record(tech, pairFields("client_id", "seven"), "offset 1").refuses(http.StatusUnprocessableEntity, "client_id", "a UUID")
	folders, err := s.kept.Files.Folders(time.Now().Add(time.Hour))
	if err != nil || len(folders) != 1 {
		t.Errorf("folders: %v %v, want that of the one clip", folders, err)
	}
}

func TestWhatARecordingMustSay(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	tech := s.key("tech", "red-van")
	s.record(tech, pairFields("sound", "stage"), "offset 1").refuses(http.StatusUnprocessableEntity, "sound", "lectern")
	s.record(tech, pairFields("method", "guess"), "offset 1").refuses(http.StatusUnprocessableEntity, "method", "clip, tracks")
	s.record(tech, pairFields("segments", "8-4"), "offset 1").refuses(http.StatusUnprocessableEntity, "segments/0", "12.5-30")
	s.record(tech, pairFields("distance_m", "far"), "offset 1").refuses(http.StatusUnprocessableEntity, "distance_m", "1.2")
	s.record(tech, pairFields()).refuses(http.StatusUnprocessableEntity, "file", "as file")
	s.record(tech, map[string]string{"picture": "cam-1", "sound": "lectern"}, "offset 1").refuses(http.StatusUnprocessableEntity, "settings", "lectern-delay")
	s.record(tech, pairFields("colour", "red"), "offset 1").refuses(http.StatusUnprocessableEntity, "", "file, and client_id")
	s.record(tech, pairFields(), "").want(http.StatusUnprocessableEntity)
	s.post(tech, "/v1/rigs/hall/clips", m{}).want(http.StatusUnsupportedMediaType)
	body, media := form(t, pairFields(), "offset 1")
	s.send(tech, http.MethodPost, "/v1/rigs/hall/clips", body[:len(body)-30], "Content-Type", media).want(http.StatusBadRequest)
	if folders, err := s.kept.Files.Folders(time.Now().Add(time.Hour)); err != nil || len(folders) != 0 {
		t.Errorf("left behind: %v %v", folders, err)
	}
}

func TestWhoMaySeeAClip(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	tech, other := s.key("tech", "red-van"), s.key("tech", "blue-van")
	id := s.record(tech, pairFields(), "offset 1").want(http.StatusCreated).at("id").(string)
	for _, path := range []string{"/v1/clips/" + id, "/v1/clips/" + id + "/events", "/v1/rigs/hall/clips"} {
		s.get(other, path).want(http.StatusNotFound)
	}
	s.put(other, "/v1/clips/"+id+"/accept", m{}, "If-Match", "*").want(http.StatusNotFound)
	s.send(other, http.MethodDelete, "/v1/clips/"+id, nil, "If-Match", "*").want(http.StatusNotFound)
	s.record(other, pairFields(), "offset 1").want(http.StatusNotFound)
	reader := s.key("reader", "red-van")
	s.get(reader, "/v1/clips/"+id).want(http.StatusOK)
	s.record(reader, pairFields(), "offset 1").want(http.StatusForbidden)
	s.send(reader, http.MethodDelete, "/v1/clips/"+id, nil, "If-Match", "*").want(http.StatusForbidden)
}

func TestTooBig(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	s.kept.MostBytes = 1000
	s.serve()
	tech := s.key("tech", "red-van")
	s.record(tech, pairFields(), strings.Repeat("x", 1001)).want(http.StatusRequestEntityTooLarge)
	s.record(tech, map[string]string{"method": "tracks", "first": "lectern", "second": "live"}, strings.Repeat("x", 600), strings.Repeat("y", 600)).
		want(http.StatusRequestEntityTooLarge)
	s.record(tech, pairFields(), strings.Repeat("x", 1000)).want(http.StatusCreated)
}

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

func TestAResultIsDrawn(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	tech := s.key("tech", "red-van")
	id := s.record(tech, pairFields(), "offset 166.9").want(http.StatusCreated).at("id").(string)
	s.get(tech, "/v1/clips/"+id+"/plot.svg").want(http.StatusConflict)
	s.work()
	s.settled(tech, id)
	drawn := s.get(tech, "/v1/clips/"+id+"/plot.svg").want(http.StatusOK)
	if drawn.header.Get("Content-Type") != "image/svg+xml" || !strings.Contains(string(drawn.body), "red-van.hall") ||
		!strings.Contains(string(drawn.body), "early 166.9 ms") || !strings.Contains(drawn.header.Get("Content-Security-Policy"), "default-src 'none'") {
		t.Errorf("%v %s", drawn.header, drawn.body)
	}
	s.get(tech, "/v1/clips/"+id+"/plot.svg", "If-None-Match", drawn.header.Get("ETag")).want(http.StatusNotModified)
	s.get(s.key("tech", "blue-van"), "/v1/clips/"+id+"/plot.svg").want(http.StatusNotFound)
}

func TestAListOfClipsComesInPages(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	tech := s.key("tech", "red-van")
	var want []string
	for range 3 {
		s.wait(time.Second)
		want = append([]string{s.record(tech, map[string]string{"method": "eye"}, "stepped by hand").want(http.StatusCreated).at("id").(string)}, want...)
	}
	var got []string
	for path := "/v1/rigs/hall/clips?page_size=2"; path != ""; {
		page := s.get(tech, path).want(http.StatusOK)
		for _, item := range page.at("items").([]any) {
			got = append(got, item.(m)["id"].(string))
			if item.(m)["state"] != "uploaded" {
				t.Errorf("nothing is to be analysed, and it is %v", item.(m)["state"])
			}
		}
		path, _, _ = strings.Cut(strings.TrimPrefix(page.header.Get("Link"), "<"), ">")
	}
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("got %v, want %v", got, want)
	}
}

// TestTwoRecordingsAreComparedAsTracks: two files, two chains of sound.
func TestTwoRecordingsAreComparedAsTracks(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	s.work()
	tech := s.key("tech", "red-van")
	fields := map[string]string{"method": "tracks", "first": "live", "second": "lectern", "settings": "lectern-delay=0", "first_track": "0.0.1"}
	s.record(tech, fields, "offset -12", "").want(http.StatusUnprocessableEntity) // the second is empty
	id := s.record(tech, fields, "offset -12", "silence").want(http.StatusCreated).at("id").(string)
	done := s.settled(tech, id)
	accepted := s.put(tech, "/v1/clips/"+id+"/accept", m{}, "If-Match", done.header.Get("ETag")).want(http.StatusOK)
	if accepted.at("measurements.0.measurement.method") != "tracks" || accepted.at("measurements.0.measurement.heard") != "live before lectern by 12.0 ms" {
		t.Errorf("accepted: %s", accepted.body)
	}
}

func TestRecordingsAreDeleted(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	s.kept.Keep = 24 * time.Hour
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
	s.wait(25 * time.Hour)
	if err := s.clips.Tidy(t.Context()); err != nil {
		t.Fatal(err)
	}
	after := s.get(tech, "/v1/clips/"+kept).want(http.StatusOK)
	if there() != 0 || after.at("recording") != "deleted" || after.at("state") != "accepted" || after.at("evidence.light") == nil {
		t.Errorf("%d recordings after the day, the clip is %s", there(), after.body)
	}
	s.send(tech, http.MethodDelete, "/v1/clips/"+kept, nil, "If-Match", "*").want(http.StatusOK)
}

var _ service.Analyst = (*scripted)(nil)

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

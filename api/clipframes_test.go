package api_test

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"delaybook/domain/onset"
	"delaybook/domain/service"
)

// A flicker is a viewer of "recordings" of 25 frames a second, 3 s long, whose
// images say what they are. It counts how often it is asked.
type flicker struct{ asked atomic.Int32 }

func (f *flicker) Stills(_ context.Context, file string, fromS float64, n, width int) ([]service.Still, error) {
	f.asked.Add(1)
	text, err := os.ReadFile(file)
	var out []service.Still
	for i := range int64(75) {
		if ticks := i * 3600; float64(ticks) >= fromS*service.TicksPerS-0.5 && len(out) < n {
			out = append(out, service.Still{Ticks: ticks, JPEG: fmt.Appendf(nil, "%s, frame %d, %d wide", text, i, width)})
		}
	}
	return out, err
}

func (*flicker) Listen(context.Context, string) (service.Hearing, error) {
	return service.Hearing{DurationS: 3, FPS: 25, Onsets: []onset.Onset{{AtS: 0.81, LevelDB: -12, RiseDB: 40}}}, nil
}

// newCinema is a studio whose recordings can be looked at, with one that waits to be.
func newCinema(t *testing.T) (s *site, f *flicker, tech, id string) {
	t.Helper()
	s = newSite(t)
	f = &flicker{}
	s.kept.Analyst, s.kept.Viewer = newScripted(), f
	s.serve()
	s.addHall()
	tech = s.key("tech", "red-van")
	return s, f, tech, s.record(tech, pairFields("method", "clap"), "a clap").want(http.StatusCreated).at("id").(string)
}

func TestFramesAreListedAndShown(t *testing.T) {
	t.Parallel()
	s, f, tech, id := newCinema(t)
	list := s.get(tech, "/v1/clips/"+id+"/frames?from_s=0.8&count=7&width=320").want(http.StatusOK)
	frames := list.at("frames").([]any)
	if len(frames) != 7 || list.at("frames.0.at_s") != 0.8 || list.at("frames.6.at_s") != 1.04 || list.at("sounds.0.at_s") != 0.81 || list.at("duration_s") != 3.0 {
		t.Fatalf("list: %s", list.body)
	}
	image := s.get(tech, list.at("frames.6.image").(string)).want(http.StatusOK)
	if got := string(image.body); got != "a clap, frame 26, 320 wide" || image.header.Get("Content-Type") != "image/jpeg" {
		t.Errorf("image: %q %v", got, image.header)
	}
	asked := f.asked.Load()
	s.get(tech, "/v1/clips/"+id+"/frames?from_s=0.8&count=7&width=320").want(http.StatusOK)
	s.get(tech, list.at("frames.0.image").(string)).want(http.StatusOK)
	if f.asked.Load() != asked || asked != 2 {
		t.Errorf("the recording was decoded %d times, then %d more", asked, f.asked.Load()-asked)
	}
	if n := len(s.get(tech, "/v1/clips/"+id+"/frames?from_s=2.9&count=20").at("frames").([]any)); n != 2 {
		t.Errorf("%d frames at the end, want 2", n)
	}
	if n := len(s.get(tech, "/v1/clips/"+id+"/frames?from_s=80").at("frames").([]any)); n != 0 {
		t.Errorf("%d frames after the end", n)
	}
}

func TestFramesAreRefused(t *testing.T) {
	t.Parallel()
	s, f, tech, id := newCinema(t)
	s.unwatched()
	frames := "/v1/clips/" + id + "/frames"
	for query, field := range map[string]string{
		"?from_s=soon": "from_s", "?from_s=1e9": "from_s", "?from_s=NaN": "from_s", "?count=0": "count", "?count=999": "count", "?width=333": "width", "?width=9600": "width", "?width=x": "width",
	} {
		s.get(tech, frames+query).refuses(http.StatusUnprocessableEntity, field, "")
	}
	s.get(tech, frames+"/72001.jpg").want(http.StatusNotFound)
	asked := f.asked.Load()
	for _, name := range []string{"/900000000.jpg", "/-9000000000.jpg", "/x.jpg", "/72000"} {
		s.get(tech, frames+name).want(http.StatusNotFound)
	}
	if f.asked.Load() != asked {
		t.Error("frames that can not be there were decoded")
	}
	s.get(tech, frames+"/72000.jpg?width=1").want(http.StatusUnprocessableEntity)
	other := s.key("tech", "blue-van")
	s.get(other, frames).want(http.StatusNotFound)
	s.get(other, frames+"/72000.jpg").want(http.StatusNotFound)
}

// A sleeper never comes to an end by itself.
type sleeper struct{ flicker }

func (*sleeper) Listen(ctx context.Context, _ string) (service.Hearing, error) {
	<-ctx.Done()
	return service.Hearing{}, ctx.Err()
}

func TestARecordingThatTakesTooLongIsNotShown(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.kept.Analyst, s.kept.Viewer, s.kept.Longest = newScripted(), &sleeper{}, 10*time.Millisecond
	s.serve()
	s.addHall()
	tech := s.key("tech", "red-van")
	id := s.record(tech, pairFields("method", "clap"), "a clap").want(http.StatusCreated).at("id").(string)
	slow := s.get(tech, "/v1/clips/"+id+"/frames").want(http.StatusConflict)
	if detail, _ := slow.at("detail").(string); !strings.Contains(detail, "shorter part") {
		t.Errorf("slow: %s", slow.body)
	}
}

func TestADeletedRecordingShowsNoFrames(t *testing.T) {
	t.Parallel()
	s, _, tech, id := newCinema(t)
	s.get(tech, "/v1/clips/"+id+"/frames").want(http.StatusOK)
	s.wait(service.DefaultClipKeep + time.Hour)
	gone := s.get(tech, "/v1/clips/"+id+"/frames").want(http.StatusGone)
	if detail, _ := gone.at("detail").(string); !strings.Contains(detail, "send it again") {
		t.Errorf("gone: %s", gone.body)
	}
	s.get(tech, "/v1/clips/"+id+"/frames/72000.jpg").want(http.StatusGone)
}

package api_test

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"mime/multipart"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"delaybook/domain/recording"
	"delaybook/domain/service"
)

// A scripted analyst stands for the decoder: the "recording" says in its own
// words what is to be found in it, so that each answer rests on the bytes that
// arrived. Its lines are
//
//	offset MS        a measured segment
//	refuse CODE      no number
//	break TEXT       the analysis breaks off
//	hold             wait until the test lets it go on
type scripted struct {
	begun chan string   // gets the path of a recording on "hold"
	going chan struct{} // closed or sent to: go on
}

func newScripted() *scripted {
	return &scripted{begun: make(chan string, 16), going: make(chan struct{})}
}

// Estimate is a second a line.
func (a *scripted) Estimate(_ context.Context, r service.AnalysisRequest) (time.Duration, error) {
	lines := 0
	for _, path := range r.Files {
		text, err := os.ReadFile(path)
		if err != nil {
			return 0, err
		}
		lines += strings.Count(string(text), "\n") + 1
	}
	return time.Duration(lines) * time.Second, nil
}

func (a *scripted) Analyse(ctx context.Context, r service.AnalysisRequest, progress func(service.Progress)) (recording.Result, error) {
	result := recording.Result{Method: r.Method, FrameRate: "30000/1001", DurationS: 20, Segments: []recording.Finding{}, Flags: []recording.Flag{}}
	for n, path := range r.Files {
		text, err := os.ReadFile(path)
		if err != nil {
			return result, err
		}
		for line := range strings.Lines(string(text)) {
			word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
			switch word {
			case "offset":
				result.Segments = append(result.Segments, finding(rest, n, len(result.Segments)))
			case "refuse":
				result.Refused = &recording.Refusal{Code: recording.RefusalCode(rest), Text: "Nothing was seen.", Try: "Film the card."}
			case "break":
				return result, errors.New(rest)
			case "hold":
				progress(service.Progress{Done: 0.25, Estimate: 40 * time.Second})
				a.begun <- path
				select {
				case <-a.going:
				case <-ctx.Done():
					return result, ctx.Err()
				}
			}
		}
	}
	if result.Refused == nil && len(result.Segments) > 0 {
		result.Finding = &result.Segments[0]
		curve := &recording.Series{StepS: 0.01, Values: bytes.Repeat([]byte{0, 255}, 50)}
		result.Evidence = &recording.Evidence{Light: curve, Sound: curve}
	}
	return result, nil
}

func finding(ms string, file, n int) recording.Finding {
	var offset float64
	if _, err := fmt.Sscan(ms, &offset); err != nil {
		panic(err)
	}
	drift := 2.5
	return recording.Finding{
		FromS: float64(10 * n), ToS: float64(10*n + 10), OffsetMS: offset, UMS: 1.8, This95: [2]float64{offset - 3.6, offset + 3.6},
		EventSDMS: 12, DriftPPM: &drift, Sound: recording.Track{File: file}, Said: "sound early " + ms + " ms",
		Events: []recording.Event{{AtS: float64(10*n) + 1.5, OffsetMS: offset, UMS: 2, Confidence: 1, Used: true}}, Flags: []recording.Flag{},
	}
}

// work runs the jobs of the site until the function that it returns is called,
// or the test ends.
func (s *site) work() (stop func()) {
	s.tb.Helper()
	ctx, cancel := context.WithCancel(context.WithoutCancel(s.tb.Context()))
	done := make(chan error, 1)
	go func() { done <- s.clips.Work(ctx) }()
	stopped := false
	stop = func() {
		if stopped {
			return
		}
		stopped = true
		cancel()
		if err := <-done; err != nil {
			s.tb.Errorf("work: %v", err)
		}
	}
	s.tb.Cleanup(stop)
	return stop
}

// newStudio is a site with the hall, whose recordings a scripted analyst measures.
func newStudio(tb testing.TB) (*site, *scripted) {
	tb.Helper()
	s := newSite(tb)
	a := newScripted()
	s.kept.Analyst = a
	s.serve()
	s.addHall()
	return s, a
}

// form writes fields, and files called file.
func form(tb testing.TB, fields map[string]string, files ...string) (body []byte, contentType string) {
	tb.Helper()
	var out bytes.Buffer
	w := multipart.NewWriter(&out)
	for name, value := range fields {
		if err := w.WriteField(name, value); err != nil {
			tb.Fatal(err)
		}
	}
	for i, text := range files {
		part, err := w.CreateFormFile("file", fmt.Sprintf("VID_%d.mp4", i))
		if err != nil {
			tb.Fatal(err)
		}
		if _, err := part.Write([]byte(text)); err != nil {
			tb.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		tb.Fatal(err)
	}
	return out.Bytes(), w.FormDataContentType()
}

// pairFields name the pair of the hall, with nothing dialled in.
func pairFields(more ...string) map[string]string {
	fields := map[string]string{"picture": "cam-1", "sound": "lectern", "settings": "lectern-delay=0", "power_up": "new"}
	for i := 0; i+1 < len(more); i += 2 {
		fields[more[i]] = more[i+1]
	}
	return fields
}

// record sends a recording as a form.
func (s *site) record(key string, fields map[string]string, files ...string) answer {
	s.tb.Helper()
	body, media := form(s.tb, fields, files...)
	return s.send(key, http.MethodPost, "/v1/rigs/hall/clips", body, "Content-Type", media)
}

// settled waits until the clip stands still.
func (s *site) settled(key, id string) answer {
	s.tb.Helper()
	return s.until(key, id, func(state string) bool { return state != "queued" && state != "analysing" })
}

func (s *site) until(key, id string, ok func(state string) bool) answer {
	s.tb.Helper()
	for range 600 {
		a := s.get(key, "/v1/clips/"+id).want(http.StatusOK)
		if ok(a.at("state").(string)) {
			return a
		}
		select {
		case <-s.tb.Context().Done():
		case <-time.After(50 * time.Millisecond):
		}
	}
	a := s.get(key, "/v1/clips/"+id)
	s.tb.Fatalf("the clip does not get on: %s", a.body)
	return a
}

// An event is one of a stream (text/event-stream of the HTML standard, 9.2).
type event struct{ id, name, data string }

// events reads a stream to its end.
func (s *site) events(key, id string, headers ...string) []event {
	s.tb.Helper()
	a := s.get(key, "/v1/clips/"+id+"/events", headers...).want(http.StatusOK)
	if got := a.header.Get("Content-Type"); got != "text/event-stream" {
		s.tb.Errorf("events of type %q", got)
	}
	var all []event
	var e event
	lines := bufio.NewScanner(bytes.NewReader(a.body))
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		name, value, _ := strings.Cut(lines.Text(), ": ")
		switch name {
		case "id":
			e.id = value
		case "event":
			e.name = value
		case "data":
			e.data = value
		case "":
			if lines.Text() == "" {
				all, e = append(all, e), event{}
			}
		}
	}
	return all
}

package db_test

import (
	"context"
	"errors"
	"sync"
	"testing"
	"time"

	"delaybook/domain"
	"delaybook/domain/recording"
	"delaybook/domain/service"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

var host = uuid.MustParse("5b1c0b0e-0000-4000-8000-0000000000aa")

// recorded is a clip of the hall with every field set.
func recorded(n int) *service.Clip {
	drift := 2.5
	segments := []recording.Finding{
		{
			ToS: 10, OffsetMS: 166.9, UMS: 1.8, This95: [2]float64{163.3, 170.5}, EventSDMS: 0.4, DriftPPM: &drift, Said: "sound early",
			Events: []recording.Event{{AtS: 1.5, OffsetMS: 167, Used: true}}, Flags: []recording.Flag{recording.FlagVFR},
		},
		{FromS: 10, ToS: 20, OffsetMS: -3, Events: []recording.Event{}, Flags: []recording.Flag{}},
	}
	now := at(5)
	return &service.Clip{
		ID: domain.ClipID{UUID: id(8000 + n)}, Rig: hall, ClientID: id(8100 + n), Fingerprint: [32]byte{1, 31: byte(n)}, By: techKey, Host: host,
		CreatedAt: at(4), KeepUntil: at(50), Kept: true,
		Ask:   service.ClipAsk{Method: "clip", Picture: "cam", Sound: "mic", Settings: []service.NewSetting{{Control: "main-delay", Value: "1"}}},
		Files: []service.ClipFile{{Name: "VID.mp4", Size: 12, SHA256: domain.Digest{7}}}, Row: 1, State: service.ClipDone, Attempt: 1,
		Options:  service.AnalysisOptions{Method: recording.ByClip, Segments: []service.Span{{FromS: 1, ToS: 2}}, Sound: &recording.Track{Stream: 1}},
		QueuedAt: &now, StartedAt: &now, EndedAt: &now, BeatAt: &now, Progress: 0.5, EstimateS: &drift, Failure: "none",
		Result: &recording.Result{
			Method: recording.ByClip, Finding: &segments[0], Segments: segments, FrameRate: "30000/1001", DurationS: 20,
			Flags: []recording.Flag{recording.FlagVFR}, Warnings: []recording.Warning{},
		},
		Evidence:     &recording.Evidence{FromS: 1, Light: &recording.Series{StepS: 0.01, Values: []byte{0, 128, 255}}},
		Decision:     &service.ClipDecision{By: techKey, At: at(6), Reason: "r", Fingerprint: domain.Digest{9}, Version: 3},
		Measurements: []domain.MeasurementID{{UUID: id(1)}, {UUID: id(2)}},
	}
}

func TestAClipIsReadAsItWasWritten(t *testing.T) {
	t.Parallel()
	s := told(t)
	want := recorded(1)
	if err := s.AddClip(t.Context(), want); err != nil {
		t.Fatal(err)
	}
	for name, read := range map[string]func() (*service.Clip, error){
		"by id":        func() (*service.Clip, error) { return s.Clip(t.Context(), want.ID) },
		"by client id": func() (*service.Clip, error) { return s.ClipByClientID(t.Context(), want.ClientID) },
	} {
		got, err := read()
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s: wrote -, read +:\n%s", name, diff)
		}
	}
	list, err := s.ClipsOf(t.Context(), hall)
	if err != nil || len(list) != 1 || list[0].Evidence != nil || len(list[0].Result.Segments) != 1 || list[0].Result.OffsetMS != 166.9 {
		t.Errorf("list: %+v %v", list, err)
	}
	if none, err := s.Clip(t.Context(), domain.ClipID{UUID: id(1)}); none != nil || err != nil {
		t.Errorf("one that is not there: %v %v", none, err)
	}
	if none, err := s.ChangeClip(t.Context(), domain.ClipID{UUID: id(1)}, func(*service.Clip) error { return nil }); none != nil || err != nil {
		t.Errorf("changed one that is not there: %v %v", none, err)
	}
	twice := recorded(2)
	twice.ClientID = want.ClientID
	wantConflict(t, s.AddClip(t.Context(), twice), "clips_client_id_key")
}

// TestChangesOfAClipDoNotGetLost: each of many at once sees what the one before left.
func TestChangesOfAClipDoNotGetLost(t *testing.T) {
	t.Parallel()
	s := told(t)
	c := recorded(1)
	if err := s.AddClip(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	for range 20 {
		all.Go(func() {
			if _, err := s.ChangeClip(t.Context(), c.ID, func(c *service.Clip) error { c.Failure += "x"; return nil }); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	refused := errors.New("no")
	if _, err := s.ChangeClip(t.Context(), c.ID, func(c *service.Clip) error { c.Failure = ""; return refused }); !errors.Is(err, refused) {
		t.Errorf("got %v", err)
	}
	got, err := s.Clip(t.Context(), c.ID)
	if err != nil || len(got.Failure) != len("none")+20 || got.Row != 21 {
		t.Errorf("after 20 changes: %q, row %d, %v", got.Failure, got.Row, err)
	}
}

func TestTheBeatOfAnAnalysis(t *testing.T) {
	t.Parallel()
	s := told(t)
	c := recorded(1)
	c.State, c.Attempt = service.ClipAnalysing, 2
	if err := s.AddClip(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	estimate := 7.5
	for attempt, want := range map[int]bool{1: false, 2: true} {
		if wanted, err := s.Beat(t.Context(), c.ID, attempt, at(9), 0.75, &estimate); wanted != want || err != nil {
			t.Errorf("the beat of attempt %d: %v %v", attempt, wanted, err)
		}
	}
	got, err := s.Clip(t.Context(), c.ID)
	if err != nil || got.Progress != 0.75 || *got.EstimateS != 7.5 || !got.BeatAt.Equal(at(9)) || got.Row != 1 {
		t.Errorf("after it: %+v %v", got, err)
	}
	for when, want := range map[time.Time]int{at(9): 0, at(10): 1} {
		if stalled, err := s.Stalled(t.Context(), when); err != nil || len(stalled) != want {
			t.Errorf("stalled before %v: %v %v", when, stalled, err)
		}
		if expired, err := s.Expired(t.Context(), host, when.Add(time.Hour)); err != nil || len(expired) != 1 {
			t.Errorf("expired: %v %v", expired, err)
		}
	}
	for _, of := range []uuid.UUID{host, id(1)} {
		if expired, err := s.Expired(t.Context(), of, at(49)); err != nil || len(expired) != 0 {
			t.Errorf("expired too soon, or of another: %v %v", expired, err)
		}
	}
}

// A process that was killed with a job in hand, before it said so in the clip.
func TestAJobThatWasTakenAndLeft(t *testing.T) {
	t.Parallel()
	s := told(t)
	c := recorded(1)
	c.State = service.ClipQueued
	if err := s.AddClip(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	for _, step := range []struct {
		name, sql string
		want      int
	}{
		{"waiting", `UPDATE jobs.river_job SET attempted_at = NULL`, 0},
		{"just taken", `UPDATE jobs.river_job SET state = 'running', attempt = 1, attempted_at = now()`, 0},
		{"left", `UPDATE jobs.river_job SET attempted_at = now() - interval '1 minute'`, 1},
		{"an attempt that is over", `UPDATE clips SET attempt = attempt + 1`, 0},
	} {
		if err := s.Exec(t.Context(), step.sql); err != nil {
			t.Fatal(err)
		}
		if stalled, err := s.Stalled(t.Context(), at(0)); err != nil || len(stalled) != step.want {
			t.Errorf("%s: %v %v, want %d", step.name, stalled, err, step.want)
		}
	}
}

// TestJobsRunOnceAndAtTheirHost: two processes of one host and one of another
// share the work of one, and only of that.
func TestJobsRunOnceAndAtTheirHost(t *testing.T) {
	t.Parallel()
	s := told(t)
	ctx, stop := context.WithCancel(t.Context())
	var mu sync.Mutex
	runs := map[domain.ClipID]int{}
	var workers sync.WaitGroup
	work := func(of uuid.UUID, note bool) {
		workers.Go(func() {
			err := s.WorkClips(ctx, of, func(_ context.Context, id domain.ClipID, attempt int) error {
				mu.Lock()
				defer mu.Unlock()
				if runs[id] += attempt; !note {
					t.Errorf("clip %v ran at another host", id)
				}
				return nil
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	const n = 8
	for i := range n {
		c := recorded(i)
		c.State = service.ClipQueued
		if err := s.AddClip(t.Context(), c); err != nil {
			t.Fatal(err)
		}
		again := func(*service.Clip) error { return nil } // the same attempt: no other job
		if _, err := s.ChangeClip(t.Context(), c.ID, again); err != nil {
			t.Fatal(err)
		}
	}
	work(host, true)
	work(host, true)
	work(id(1), false)
	for range 400 {
		mu.Lock()
		done := len(runs)
		mu.Unlock()
		if done == n {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	time.Sleep(200 * time.Millisecond) // a second run would come now
	stop()
	workers.Wait()
	for id, times := range runs {
		if times != 1 {
			t.Errorf("clip %v ran %d times", id, times)
		}
	}
	if len(runs) != n {
		t.Errorf("%d of %d clips ran", len(runs), n)
	}
}

// TestNoClipNoJob: what is rolled back leaves nothing to do.
func TestNoClipNoJob(t *testing.T) {
	t.Parallel()
	s := told(t)
	c := recorded(1)
	c.State, c.Rig = service.ClipQueued, domain.RigID{UUID: id(404)}
	if err := s.AddClip(t.Context(), c); err == nil {
		t.Fatal("a clip of no rig was stored")
	}
	if n, err := s.CountJobs(t.Context()); n != 0 || err != nil {
		t.Errorf("%d jobs, %v", n, err)
	}
}

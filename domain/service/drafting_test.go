package service_test

import (
	"strings"
	"testing"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"
)

// take stores a measurement of the hall or fails the test.
func (b *bench) take(tb testing.TB, change func(*service.NewMeasurement)) service.MeasurementView {
	tb.Helper()
	in := clap("5")
	change(&in)
	taken, err := b.AddMeasurement(tb.Context(), as(domain.Tech, b.red), "hall", in)
	if err != nil {
		tb.Fatalf("take: %v", err)
	}
	return taken.Measurement
}

func TestOffsetsAreExactAndSigned(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	for _, c := range []struct {
		frames, heard, rate string
		want                float64 // ms: frames * 1001/30 at 29.97 (common practice, no source), rounded once
	}{
		{"5", "early", "", 5 * 1001.0 / 30},
		{"6.5", "early", "", 6.5 * 1001.0 / 30},
		{"5", "late", "", -5 * 1001.0 / 30},
		{"0", "in-sync", "", 0},
		{"5", "early", "25", 200},
	} {
		m := b.take(t, func(in *service.NewMeasurement) {
			in.FrameRate = c.rate
			in.Readings = []service.NewReading{{Frames: c.frames, Heard: c.heard}}
		})
		if got := m.Readings[0].OffsetMS; got != c.want {
			t.Errorf("%s frames %s at %q: got %v ms, want %v", c.frames, c.heard, c.rate, got, c.want)
		}
	}
}

func TestPowerUps(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	at := func(minutes int, said string) service.MeasurementView {
		return b.take(t, func(in *service.NewMeasurement) {
			in.PowerUp = said
			in.TakenAt = noon.Add(time.Duration(minutes) * time.Minute).Format(time.RFC3339)
		})
	}
	*b.clock = noon.AddDate(0, 0, 3)
	first := at(0, "")
	for _, c := range []struct {
		what string
		m    service.MeasurementView
		same bool
	}{
		{"an hour later, unsaid", at(60, ""), true},
		{"11 hours before, unsaid", at(-11*60, ""), true},
		{"an hour later, said to be new", at(61, "new"), false},
		{"a day later, unsaid", at(24*60, ""), false},
		{"two days later, said to be the same", at(48*60, "same"), false}, // the same as the day before it
	} {
		if got := c.m.PowerUp.ID == first.PowerUp.ID; got != c.same {
			t.Errorf("%s: same power-up %t, want %t", c.what, got, c.same)
		}
	}
	if a, b := at(100, "evening"), at(2000, "evening"); a.PowerUp.ID != b.PowerUp.ID || a.PowerUp.Label != "evening" {
		t.Errorf("a label: got power-ups %+v and %+v, want one", a.PowerUp, b.PowerUp)
	}
}

func TestSettingsInForceFillIn(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	in := clap("5")
	in.Settings = nil
	_, err := b.AddMeasurement(t.Context(), as(domain.Tech, b.red), "hall", in)
	if got := send(t, err, "/settings"); !strings.Contains(got, "lectern-delay") {
		t.Errorf("nothing known of the dial: told to send %q, want the control named", got)
	}
	for i, value := range []string{"2", "4"} {
		put := service.NewSettings{
			Settings: []service.NewSetting{{Control: "lectern-delay", Value: value}},
			At:       noon.Add(time.Duration(i-2) * time.Hour).Format(time.RFC3339),
		}
		v, err := b.PutSettings(t.Context(), as(domain.Editor, b.red), "hall", put)
		if err != nil {
			t.Fatal(err)
		}
		if replaced := v.Replaced != nil; replaced != (i == 1) {
			t.Errorf("settings %d replaced something: %t", i, replaced)
		}
	}
	for minutes, want := range map[int]string{-90: "2", -30: "4"} {
		m := b.take(t, func(in *service.NewMeasurement) {
			in.Settings = nil
			in.TakenAt = noon.Add(time.Duration(minutes) * time.Minute).Format(time.RFC3339)
		})
		if got := m.Settings[0].Value.String(); got != want {
			t.Errorf("taken at %d minutes: the dial was %s, want %s", minutes, got, want)
		}
	}
}

func TestAMeasurementKeepsItsRevision(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	*b.clock = noon.Add(2 * time.Hour)
	in := hall()
	in.Chains[0].Stages[0].Timing = "free"
	anyCopy := service.Match{Given: true, Any: true}
	changed, err := b.ReplaceRig(t.Context(), as(domain.Editor, b.red), "hall", anyCopy, in)
	if err != nil || changed.Shown.Number != 2 {
		t.Fatalf("a changed timing: revision %d (%v), want 2", changed.Shown.Number, err)
	}
	in.Name = "Renamed"
	renamed, err := b.ReplaceRig(t.Context(), as(domain.Editor, b.red), "hall", anyCopy, in)
	if err != nil || renamed.Shown.Number != 2 || renamed.Name != "Renamed" {
		t.Fatalf("a rename: revision %d %q (%v), want still 2", renamed.Shown.Number, renamed.Name, err)
	}
	for taken, want := range map[time.Duration]int{-24 * time.Hour: 1, time.Hour: 1, 2 * time.Hour: 2} {
		m := b.take(t, func(in *service.NewMeasurement) { in.TakenAt = noon.Add(taken).Format(time.RFC3339) })
		if m.Revision != want {
			t.Errorf("taken %v after noon: revision %d, want %d", taken, m.Revision, want)
		}
	}
}

// TestWhatAMeasurementMustSay gives every field something wrong; each time the
// error must stand at that field and say what to send.
func TestWhatAMeasurementMustSay(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	reading := func(r service.NewReading) func(*service.NewMeasurement) {
		return func(in *service.NewMeasurement) { in.Readings = []service.NewReading{r} }
	}
	for what, c := range map[string]struct {
		change  func(*service.NewMeasurement)
		pointer string
		send    string
	}{
		"unknown rate":          {func(in *service.NewMeasurement) { in.FrameRate = "29.9" }, "/frame_rate", "29.97"},
		"negative frames":       {reading(service.NewReading{Frames: "-5", Heard: "early"}), "/readings/0/frames", "late"},
		"thirds of frames":      {reading(service.NewReading{Frames: "5.3", Heard: "early"}), "/readings/0/frames", "halves"},
		"absurd frames":         {reading(service.NewReading{Frames: "400", Heard: "early"}), "/readings/0/frames", "early or late"},
		"frames unheard":        {reading(service.NewReading{Frames: "5"}), "/readings/0/heard", "early, late or in-sync"},
		"five frames in sync":   {reading(service.NewReading{Frames: "5", Heard: "in-sync"}), "/readings/0/heard", "0 frames"},
		"no frames early":       {reading(service.NewReading{Frames: "0", Heard: "early"}), "/readings/0/heard", "in-sync"},
		"an empty reading":      {reading(service.NewReading{}), "/readings/0", "offset_ms"},
		"absurd ms":             {reading(service.NewReading{OffsetMS: ptr(1e6)}), "/readings/0/offset_ms", "10000"},
		"no readings":           {func(in *service.NewMeasurement) { in.Readings = nil }, "/readings", "1 to 1000"},
		"unknown method":        {func(in *service.NewMeasurement) { in.Method = "ear" }, "/method", "clap"},
		"unknown chain":         {func(in *service.NewMeasurement) { in.Picture = "cam-9" }, "/picture", "cam-1"},
		"sound for picture":     {func(in *service.NewMeasurement) { in.Picture = "lectern" }, "/picture", "cam-1"},
		"one chain":             {func(in *service.NewMeasurement) { in.Sound = "" }, "", "picture and sound"},
		"unknown destination":   {func(in *service.NewMeasurement) { in.ReadAt = "balcony" }, "/read_at", "programme"},
		"a card with a clap":    {func(in *service.NewMeasurement) { in.CardSource = "tablet" }, "/card_source", "no card_source"},
		"tracks of picture":     {func(in *service.NewMeasurement) { in.Method = "tracks" }, "/method", "sound chains"},
		"unknown control":       {func(in *service.NewMeasurement) { in.Settings[0].Control = "x" }, "/settings/0/control", "lectern-delay"},
		"beyond the range":      {func(in *service.NewMeasurement) { in.Settings[0].Value = "9" }, "/settings/0/value", "0 to 8"},
		"off the grid":          {func(in *service.NewMeasurement) { in.Settings[0].Value = "2.5" }, "/settings/0/value", "steps of 1 frame"},
		"a value of words":      {func(in *service.NewMeasurement) { in.Settings[0].Value = "NaN" }, "/settings/0/value", "decimal"},
		"in eleven minutes":     {func(in *service.NewMeasurement) { in.TakenAt = "2026-11-25T12:11:00Z" }, "/taken_at", "clock"},
		"eleven years ago":      {func(in *service.NewMeasurement) { in.TakenAt = "2015-11-25T12:11:00Z" }, "/taken_at", "clock"},
		"no such revision":      {func(in *service.NewMeasurement) { in.Revision = ptr(2) }, "/revision", "1 to 1"},
		"a negative distance":   {func(in *service.NewMeasurement) { in.DistanceM = ptr(-1.0) }, "/distance_m", "0 to 1000"},
		"air that melts":        {func(in *service.NewMeasurement) { in.AirC = ptr(400.0) }, "/air_c", "60"},
		"an identifier of ours": {func(in *service.NewMeasurement) { in.ClientID = "42" }, "/client_id", "UUID"},
	} {
		in := clap("5")
		change := c.change
		change(&in)
		_, err := b.AddMeasurement(t.Context(), as(domain.Tech, b.red), "hall", in)
		if err == nil {
			t.Errorf("%s: accepted", what)
			continue
		}
		if got := send(t, err, c.pointer); !strings.Contains(got, c.send) {
			t.Errorf("%s: told to send %q, want it to say %q", what, got, c.send)
		}
	}
	if _, err := b.AddMeasurement(t.Context(), as(domain.Tech, b.red), "hall", func() service.NewMeasurement {
		in := clap("5")
		in.TakenAt = "2026-11-25T12:09:00Z"
		return in
	}()); err != nil {
		t.Errorf("a phone's clock nine minutes fast: got %v, want it accepted", err)
	}
}

func TestTheAuthorMayStrikeForADay(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	m := b.take(t, func(*service.NewMeasurement) {})
	author := as(domain.Tech, b.red)
	colleague := author
	colleague.Caller.Key = domain.KeyID{}
	strike := func(r service.Request) error {
		_, err := b.StrikeMeasurement(t.Context(), r, m.ID.String(), "misread")
		return err
	}
	restore := func(r service.Request) error {
		_, err := b.RestoreMeasurement(t.Context(), r, m.ID.String(), "it was right")
		return err
	}
	if err := strike(colleague); code(t, err) != domain.Denied {
		t.Errorf("a colleague: got %v, want it denied", err)
	}
	if err := strike(author); err != nil {
		t.Errorf("the author: %v", err)
	}
	if err := restore(author); err != nil {
		t.Errorf("the author, restoring: %v", err)
	}
	*b.clock = noon.Add(25 * time.Hour)
	if err := strike(author); code(t, err) != domain.Denied {
		t.Errorf("the author a day later: got %v, want it denied", err)
	}
	if err := strike(as(domain.Editor, b.red)); err != nil {
		t.Errorf("an editor: %v", err)
	}
}

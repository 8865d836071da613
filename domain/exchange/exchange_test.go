package exchange_test

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"delaybook/domain"
	"delaybook/domain/exchange"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// clapped is a book with one rig and one measurement: 0 frames, in sync.
func clapped() *domain.Facts {
	none := decimal.Zero
	crew, rig, powerUp := domain.CrewID{UUID: uuid.Max}, domain.RigID{UUID: uuid.Max}, domain.PowerUpID{UUID: uuid.Max}
	return &domain.Facts{
		Changes: []domain.Change{{Version: 1, At: time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)}},
		Crews:   []domain.Crew{{ID: crew, Slug: "red", Version: 1}},
		Rigs: []domain.Rig{{ID: rig, Crew: crew, Version: 1, Revisions: []domain.Revision{{
			Number: 1, Version: 1, Layout: domain.Layout{Destinations: []domain.Destination{{Slug: domain.DefaultDestination}}},
		}}}},
		PowerUps: []domain.PowerUp{{ID: powerUp, Rig: rig, Version: 1}},
		Measurements: []domain.Measurement{{
			ID: domain.MeasurementID{UUID: uuid.Max}, Rig: rig, Revision: 1, PowerUp: powerUp, First: domain.LiveChain, Second: domain.LiveChain,
			ReadAt: domain.DefaultDestination, Version: 1, Readings: []domain.Reading{{Frames: &none, Heard: domain.InSync}},
		}},
	}
}

func written(t *testing.T, facts *domain.Facts) string {
	t.Helper()
	var text bytes.Buffer
	if err := exchange.Write(&text, exchange.Header{BookVersion: facts.Last()}, facts); err != nil {
		t.Fatal(err)
	}
	return text.String()
}

func TestAReadingOfNoFramesIsReadBack(t *testing.T) {
	t.Parallel()
	_, back, err := exchange.Read(strings.NewReader(written(t, clapped())))
	if err != nil {
		t.Fatal(err)
	}
	if got := back.Measurements[0].Readings[0]; got.Frames == nil || !got.Frames.IsZero() || got.Heard != domain.InSync {
		t.Errorf("0 frames in sync are read back as %+v", got)
	}
}

// TestWhatDoesNotFitIsNamedByItsLine changes one fact of a book that is whole.
func TestWhatDoesNotFitIsNamedByItsLine(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		change func(*domain.Facts)
		says   string
	}{
		"rig of no crew":       {func(f *domain.Facts) { f.Rigs[0].Crew = domain.CrewID{} }, "line 4: it refers to the crew"},
		"no revision":          {func(f *domain.Facts) { f.Rigs[0].Revisions = nil }, "line 4: the rig has no revision"},
		"second revision only": {func(f *domain.Facts) { f.Rigs[0].Revisions[0].Number = 2 }, "line 4: revision 2"},
		"no destination":       {func(f *domain.Facts) { f.Rigs[0].Revisions[0].Layout.Destinations = nil }, "line 4: a revision of the rig"},
		"unknown device": {func(f *domain.Facts) {
			f.Rigs[0].Revisions[0].Layout.Chains = []domain.Chain{{Stages: []domain.Stage{{}}}}
		}, "line 4: it refers to the device"},
		"power-up of no rig":     {func(f *domain.Facts) { f.PowerUps[0].Rig = domain.RigID{} }, "line 5: it refers to the rig"},
		"measured revision":      {func(f *domain.Facts) { f.Measurements[0].Revision = 2 }, "line 6: it refers to revision 2 of a rig that has 1"},
		"unknown power-up":       {func(f *domain.Facts) { f.Measurements[0].PowerUp = domain.PowerUpID{} }, "line 6: it refers to the power-up"},
		"unknown chain":          {func(f *domain.Facts) { f.Measurements[0].First = "cam" }, `line 6: it measures the chain "cam"`},
		"unknown destination":    {func(f *domain.Facts) { f.Measurements[0].ReadAt = "hall" }, `line 6: it was read at the destination "hall"`},
		"settings of no rig":     {func(f *domain.Facts) { f.Settings = []domain.SettingsInForce{{Revision: 1}} }, "line 7: it refers to the rig"},
		"strike of nothing":      {func(f *domain.Facts) { f.Strikes = []domain.StrikeFact{{}} }, "line 7: it refers to the measurement"},
		"strike of nothing said": {func(f *domain.Facts) { f.Strikes = []domain.StrikeFact{{Stated: domain.StatedID{UUID: uuid.Max}}} }, "line 7: it refers to the stated value"},
		"stated of no device":    {func(f *domain.Facts) { f.Stated = []domain.Stated{{}} }, "line 4: it refers to the device"},
	} {
		facts := clapped()
		c.change(facts)
		_, _, err := exchange.Read(strings.NewReader(written(t, facts)))
		if e, ok := errors.AsType[*domain.Error](err); !ok || e.Code != domain.Malformed || !strings.Contains(e.Message, c.says) {
			t.Errorf("%s: got %v, want Malformed with %q", name, err, c.says)
		}
	}
}

func TestLinesAreCountedAsTheyStand(t *testing.T) {
	t.Parallel()
	lines := strings.SplitAfter(written(t, clapped()), "\n")
	spaced := strings.Join(lines[:2], "\n\r\n") + strings.Join(lines[2:], "") + "\n"
	if _, _, err := exchange.Read(strings.NewReader(spaced)); err != nil {
		t.Errorf("empty lines: %v", err)
	}
	_, _, err := exchange.Read(strings.NewReader(strings.Replace(spaced, `"red"`, `7`, 1)))
	if err == nil || !strings.Contains(err.Error(), "line 5: the member crew.slug can not be a number") {
		t.Errorf("got %v, want the fault on line 5", err)
	}
}

func TestAReaderThatFailsIsNotTheFaultOfTheExport(t *testing.T) {
	t.Parallel()
	text := written(t, clapped())
	for _, at := range []int{0, 10, len(text) / 2} {
		_, _, err := exchange.Read(io.MultiReader(strings.NewReader(text[:at]), iotest.ErrReader(io.ErrClosedPipe)))
		if !errors.Is(err, io.ErrClosedPipe) {
			t.Errorf("failed at byte %d: got %v", at, err)
		}
	}
}

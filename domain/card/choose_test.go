package card_test

import (
	"math"
	"strings"
	"testing"

	"delaybook/domain/card"

	"github.com/google/go-cmp/cmp"
)

// TestPageGap: what the sequence itself leaves of a camera's frame.
func TestPageGap(t *testing.T) {
	t.Parallel()
	for camera, most := range map[string][2]float64{ // one cycle, two cycles
		"24": {0.32, 0.23}, "25": {0.26, 0.26}, "29.97": {0.26, 0.26}, "50": {0.26, 0.26}, "59.94": {0.26, 0.26},
	} {
		rate := mustRate(t, camera)
		for cycles := 1; cycles <= 2; cycles++ {
			if got := card.PageGap(cycles*card.EventsPerCycle, rate); got > most[cycles-1] || got < 1.0/float64(cycles*card.EventsPerCycle) {
				t.Errorf("%s: %d cycles leave %.4f of a frame, want at most %g", camera, cycles, got, most[cycles-1])
			}
		}
	}
}

// TestPhases: worked out by hand. At one rate all flashes have one phase. Frames
// of 50 fall on two halves of a frame of 25, frames of 25 on one point of a frame
// of 50. A frame of 24 is 25/24 of one of 25, so that there are 24 phases at
// most, and of 60 and 25 12; the counts below those are of the program itself.
func TestPhases(t *testing.T) {
	t.Parallel()
	type row struct {
		Phases int
		Use    card.Use
	}
	for pair, want := range map[[2]string]row{
		{"25", "25"}: {1, card.Locked}, {"50", "25"}: {2, card.Locked}, {"25", "50"}: {1, card.Locked}, {"60", "60"}: {1, card.Locked},
		{"24", "25"}: {21, card.Sweeps}, {"60", "25"}: {12, card.Sweeps}, {"30", "24"}: {5, card.Sweeps}, {"24", "30"}: {4, card.Locked}, {"60", "29.97"}: {58, card.Sweeps},
	} {
		p := card.PhaseOf(mustFile(t, pair[0]), mustRate(t, pair[1]))
		if diff := cmp.Diff(want, row{p.Phases, p.Use}); diff != "" {
			t.Errorf("file %s, camera %s, gaps %.3f and %.3f (-want +got):\n%s", pair[0], pair[1], p.CycleGap, p.FileGap, diff)
		}
		if p.Phases <= 2 && math.Abs(p.CycleGap-1/float64(p.Phases)) > 1e-12 {
			t.Errorf("file %s, camera %s: %d phases leave %g", pair[0], pair[1], p.Phases, p.CycleGap)
		}
	}
}

func TestGapsAreSane(t *testing.T) {
	t.Parallel()
	for _, file := range card.Rates() {
		f := mustFile(t, file.String())
		for _, camera := range card.Rates() {
			p := card.PhaseOf(f, camera)
			if p.FileGap > p.FilmGap || p.FilmGap > p.CycleGap || p.FileGap < 1/float64(p.Phases)-1e-12 || p.CycleGap > 1 || p.Phases < 1 || p.Phases > 60 {
				t.Errorf("file %s, camera %s: %+v", file.Label(), camera.Label(), p)
			}
			if (file == camera) != (p.Phases == 1) && camera.Float() < file.Float() {
				t.Errorf("file %s, camera %s: %d phases", file.Label(), camera.Label(), p.Phases)
			}
		}
	}
}

func TestEven(t *testing.T) {
	t.Parallel()
	for pair, want := range map[[2]string]bool{
		{"25", "50"}: true, {"50", "50"}: true, {"30", "60"}: true, {"24", "120"}: true, {"29.97", "59.94"}: true,
		{"24", "60"}: false, {"29.97", "60"}: false, {"25", "60"}: false, {"60", "50"}: false, {"60", "30"}: false,
	} {
		if got := card.Even(mustRate(t, pair[0]), mustRate(t, pair[1])); got != want {
			t.Errorf("%s on a screen at %s is even: %t, want %t", pair[0], pair[1], got, want)
		}
	}
}

func TestChoose(t *testing.T) {
	t.Parallel()
	for _, camera := range card.Rates() {
		for _, screen := range card.Screens() {
			c, ok := card.Choose(camera, screen)
			if !ok || !card.Even(c.Phase.File, screen) || !strings.Contains(c.Why, c.Phase.File.Label()) {
				t.Errorf("camera %s, screen %s: %+v", camera.Label(), screen.Label(), c)
			}
			if c.Phase.Use != card.Locked && c.Phase.File == camera {
				t.Errorf("camera %s, screen %s: the camera's own rate", camera.Label(), screen.Label())
			}
		}
	}
	c, _ := card.Choose(mustRate(t, "25"), mustRate(t, "50"))
	if c.Phase.Use != card.Locked || !strings.Contains(c.Why, "clap") {
		t.Errorf("a 25 camera and a 50 Hz screen: %+v", c)
	}
	if c, _ := card.Choose(mustRate(t, "25"), mustRate(t, "60")); c.Phase.Use != card.Sweeps {
		t.Errorf("a 25 camera and a 60 Hz screen: %+v", c)
	}
	if _, ok := card.Choose(mustRate(t, "25"), mustRate(t, "100/3")); ok {
		t.Error("a screen at 33.3 Hz shows a file evenly")
	}
}

// TestCautionsNameTheirNumbers: NIOSH Publication 98-126 halves the time for each 3
// dB above 85 dBA over 8 hours, so that 100 dBA is 8 h / 2^5, a quarter of an hour.
func TestCautionsNameTheirNumbers(t *testing.T) {
	t.Parallel()
	if minutes := 480 / math.Exp2((100-85)/3.0); minutes != 15 {
		t.Errorf("100 dBA may last %g min", minutes)
	}
	codes := map[string]bool{}
	for _, c := range card.Cautions() {
		if c.Text == "" || c.Source == "" || codes[c.Code] {
			t.Errorf("caution %+v", c)
		}
		codes[c.Code] = true
	}
	if !codes["flashes"] || !codes["loudness"] || !codes["feedback"] || card.Cautions()[0].Code != "flashes" {
		t.Errorf("the cautions are %v, want flashes first", codes)
	}
	if text := strings.Join(card.Advice(), " "); !strings.Contains(text, "Bluetooth") || !strings.Contains(text, "clap instead") {
		t.Error("the advice leaves out Bluetooth or the clap")
	}
}

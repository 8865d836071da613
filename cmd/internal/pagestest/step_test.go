package pagestest_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"delaybook/api/pages/browsertest"
	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/domain/timebase"

	"github.com/chromedp/chromedp/kb"
)

const (
	clapWidth, clapHeight = 320, 180
	clapSeconds           = 6
)

// A filmedClap is a clap as a recording has it: the first frame on which the
// hands touch, and when it is heard.
type filmedClap struct {
	frame  int
	soundS float64
}

// clapFile is a film at 29.97 frames a second of two hands that meet in the
// middle of the picture, one frame long, and of noises that die away.
func clapFile(t *testing.T, claps ...filmedClap) string {
	t.Helper()
	rate, err := timebase.ParseRate("29.97")
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "clap.mov")
	sound := make([]float32, clapSeconds*48000)
	for _, c := range claps {
		start := int(c.soundS * 48000)
		for k := range 2400 {
			// Deterministic noise will do: a chirp that sweeps through all that a clap has.
			x := float64(k) / 48000
			sound[start+k] += float32(0.7 * math.Exp(-x/0.006) * math.Sin(2*math.Pi*(1500*x+80000*x*x)+1))
		}
	}
	err = decodertest.OpenNative(t, decoder.Limits{}).Encode(t.Context(), decoder.EncodeOptions{
		Path: path, Video: "h264", Audio: "pcm", Width: clapWidth, Height: clapHeight, Enlarge: 2, Rate: rate, Sound: [][]float32{sound},
		Picture: func(i int, luma []byte) bool {
			paintHands(luma, i, claps)
			return float64(i)*rate.FrameMS() < clapSeconds*1000
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// paintHands draws two bars as far from each other as the next clap is in time.
func paintHands(luma []byte, frame int, claps []filmedClap) {
	away := 8
	for _, c := range claps {
		away = min(away, max(frame-c.frame, c.frame-frame))
	}
	for y := range clapHeight {
		for x := range clapWidth {
			value := byte(200 - y/3)
			if d := max(x-clapWidth/2, clapWidth/2-x); y > 50 && y < 150 && d >= 8*away && d < 8*away+30 {
				value = 60
			}
			luma[y*clapWidth+x] = value
		}
	}
}

// fiveEarly are two claps: the sound falls on frame 40, the hands meet on frame
// 45, five frames of 33.3667 ms later, which is 166.8 ms; then on frame 104, and
// the hands meet between 108 and 109, four and a half later.
func fiveEarly() []filmedClap {
	const frame = 1001.0 / 30000
	return []filmedClap{{45, 40.5 * frame}, {108, 104.5 * frame}}
}

func TestAClapIsSteppedByEye(t *testing.T) {
	t.Parallel()
	c := newCinema(t)
	phone := c.joined(t, "Sam")
	before := len(c.measurements(t, "harbour-hall"))

	phone.Open("/rigs/red-van.harbour-hall/record")
	phone.Pick("#file", clapFile(t, fiveEarly()...))
	phone.Tap(`input[name=method][value=clap]`)
	phone.Choose("#pair", "cam-1 lectern programme")
	phone.Type(`[name="dial.lectern-delay"]`, "0")
	phone.Tap(`input[name=changed][value=yes]`)
	phone.Tap(browsertest.Named("Send it"))
	phone.Soon("Nothing is analysed in a recording of a clap")
	phone.Follow(browsertest.Named("Step it by eye"))
	phone.Want("at 1.35", "at 3.48", "The sound falls here", "Go to the frame on which the hands")

	phone.Tap(browsertest.Named("5 on"))
	phone.Soon("The sound falls 5 frames before this one")
	phone.Tap(browsertest.Named("1 back"))
	phone.Soon("The sound falls 4 frames before this one")
	phone.Keys("#main", kb.ArrowRight)
	phone.Soon("The sound falls 5 frames before this one")
	phone.Tap(browsertest.Named("Hands meet on this frame"))
	phone.Soon("Sound early 5 frames (166.8 ms)")
	shot(phone, "step-read")

	phone.Tap(browsertest.Named("at 3.48"))
	phone.Soon("The sound falls here", "Sound early 5 frames (166.8 ms)")
	phone.Tap(browsertest.Named("5 on"))
	phone.Soon("The sound falls 5 frames before this one")
	phone.Tap(browsertest.Named("1 back"))
	phone.Soon("The sound falls 4 frames before this one")
	phone.Tap(browsertest.Named("between this frame and the next"))
	phone.Soon("Sound early 4.5 frames (150.2 ms)")
	phone.CheckAccess()
	phone.Follow(browsertest.Named("Store what was read"))
	phone.Want("sound early 4.8 frames (158.5 ms)", "What to set now")

	all := c.measurements(t, "harbour-hall")
	if len(all) != before+1 {
		t.Fatalf("%d measurements came of one clip", len(all)-before)
	}
	m := all[0]
	if m.Method != "clap" || len(m.Readings) != 2 || m.Readings[0].Frames.String() != "5" || m.Readings[1].Frames.String() != "4.5" || m.Readings[1].Heard != "early" {
		t.Errorf("stored: %s %+v", m.Method, m.Readings)
	}
}

// shot leaves a picture of the page where make screenshots puts them.
func shot(phone *browsertest.Phone, name string) {
	for _, dark := range []bool{false, true} {
		phone.Dark(dark)
		phone.Shoot(os.Getenv(browsertest.ShotsVariable), name+map[bool]string{false: "-light", true: "-dark"}[dark])
	}
	phone.Dark(false)
}

package pages_test

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"net/http"
	"os"
	"strings"
	"testing"

	"delaybook/api/pages/browsertest"
	"delaybook/domain/onset"
	"delaybook/domain/service"
)

// The scripted viewer shows 6 s of 29.97 frames a second, each a shade of grey,
// and hears what the lines "clap SECONDS" say. With the line "phone" each second
// frame comes 4 ms late.
func (scripted) Stills(_ context.Context, file string, fromS float64, n, width int) ([]service.Still, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	var out []service.Still
	const frames = 180
	for i := range int64(frames) {
		ticks := i * 3003
		if bytes.Contains(text, []byte("phone")) {
			ticks += i % 2 * 360
		}
		if float64(ticks) < fromS*service.TicksPerS-0.5 || len(out) == n {
			continue
		}
		picture := image.NewGray(image.Rect(0, 0, width, width*9/16))
		for p := range picture.Pix {
			picture.Pix[p] = color.Gray{Y: uint8(40 + i)}.Y
		}
		var coded bytes.Buffer
		if err := jpeg.Encode(&coded, picture, nil); err != nil {
			return nil, err
		}
		out = append(out, service.Still{Ticks: ticks, JPEG: coded.Bytes()})
	}
	return out, nil
}

// Listen hears the claps.
func (scripted) Listen(_ context.Context, file string) (service.Hearing, error) {
	heard := service.Hearing{DurationS: 6, FPS: 29.97, Onsets: []onset.Onset{}}
	text, err := os.ReadFile(file)
	for line := range strings.Lines(string(text)) {
		var at float64
		if _, none := fmt.Sscanf(line, "clap %f", &at); none == nil {
			heard.Onsets = append(heard.Onsets, onset.Onset{AtS: at, LevelDB: -10, RiseDB: 30})
		}
	}
	return heard, err
}

// clapped is a recording of claps that came in, and the page to step it.
func (c *company) clapped(t *testing.T, lines ...string) (id, step string) {
	t.Helper()
	upload, err := c.Clips.Upload(t.Context(), c.editor(t), "harbour-hall")
	if err != nil {
		t.Fatal(err)
	}
	if err := upload.Add("VID_0413.mp4", strings.NewReader(strings.Join(lines, "\n"))); err != nil {
		t.Fatal(err)
	}
	clip, err := c.Clips.Add(t.Context(), c.editor(t), "harbour-hall", service.NewClip{ClipAsk: service.ClipAsk{
		Method: "clap", Picture: "cam-1", Sound: "lectern", ReadAt: "programme", PowerUp: "new",
		Settings: []service.NewSetting{{Control: "lectern-delay", Value: "0"}},
	}}, upload)
	if err != nil {
		t.Fatal(err)
	}
	return clip.ID.String(), "/clips/" + clip.ID.String() + "/step"
}

// What is read is in the address: plain links and forms do all. The sound at
// 1.35 s falls on frame 40 of 29.97 a second, which begins at 1.3347 s.
func TestSteppingWorksWithoutScripts(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	_, step := c.clapped(t, "clap 1.35", "clap 3.0")
	phone := c.joined(t, "Sam")
	phone.Scripts(false)
	phone.Open(step)
	phone.Follow(browsertest.Named("5 on"))
	phone.Follow(browsertest.Named("1 on"))
	phone.Follow(browsertest.Named("Hands meet on this frame"))
	phone.Follow(browsertest.Named("Take it back"))
	phone.Follow(browsertest.Named("1 back"))
	phone.Follow(browsertest.Named("Hands meet on this frame"))
	phone.Follow(browsertest.Named("Store what was read"))
	phone.Scripts(true)
	phone.Want("sound early 5 frames (166.8 ms)", "What to set now")
	if m := c.measurements(t, "harbour-hall")[0]; m.Method != "clap" || m.Eye != "both-sides" || len(m.Readings) != 1 || *m.Readings[0].AtS != 1.35 {
		t.Errorf("stored: %+v", m.Measurement)
	}
}

// The frames of a phone last unequally, so that none are counted: picture and
// sound are 8.0 ms apart where the frame that begins at 1.3347 s lasts 33.4 ms
// and the hands meet on it, in its middle at 1.3514 s.
func TestThePicturesOfAPhoneAreTimed(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	_, step := c.clapped(t, "clap 1.34335", "phone")
	phone := c.joined(t, "Sam")
	phone.Open(step)
	phone.Want("The sound falls here")
	phone.Tap(browsertest.Named("Hands meet on this frame"))
	phone.Soon("Sound early 8.0 ms")
	phone.Follow(browsertest.Named("Store what was read"))
	phone.Want("What to set now")
	if m := c.measurements(t, "harbour-hall")[0]; m.Eye != "one-side" || m.Readings[0].Frames != nil {
		t.Errorf("stored: %+v", m.Measurement)
	}
}

// A card that the analysis refused is stepped too: its flash is watched, and its
// source named.
func TestARefusedCardIsSteppedByEye(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	step := "/clips/" + c.clip(t, service.ClipRefused, "refuse no-flashes", "clap 2.02") + "/step"
	phone := c.joined(t, "Sam")
	phone.Open(step)
	phone.Want("The flash begins on this frame")
	phone.Tap(browsertest.Named("1 back"))
	phone.Soon("1 frame after this one")
	phone.Tap(browsertest.Named("The flash begins on this frame"))
	phone.Soon("Sound late 1 frame (33.4 ms)")
	phone.Type("#card_source", "tablet-p")
	phone.Choose("#pair", "cam-1 lectern programme")
	phone.CheckAccess()
	phone.CheckTargets()
	phone.Follow(browsertest.Named("Store what was read"))
	phone.Want("sound late 1 frame (33.4 ms)", "What to set now")
	if m := c.measurements(t, "harbour-hall")[0]; m.Method != "eye" || m.CardSource != "tablet-p" {
		t.Errorf("stored: %+v", m.Measurement)
	}
	phone.Open(step)
	phone.Want("in the book already")
}

func TestWhatCannotBeSteppedSaysWhy(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	id, step := c.clapped(t, "nothing")
	phone := c.joined(t, "Sam")
	phone.Open(step)
	phone.Want("No clap is to be heard", "Film it again")
	phone.CheckAccess()

	other := browsertest.NewPhone(t, c.Site)
	other.SignIn(c.keys.BlueVan)
	if status := other.Open(step); status != http.StatusNotFound {
		t.Errorf("another crew sees it: %d", status)
	}
	if _, err := c.Clips.DeleteClip(t.Context(), c.editor(t), id, service.Match{Given: true, Any: true}); err != nil {
		t.Fatal(err)
	}
	if status := phone.Open(step); status != http.StatusNotFound {
		t.Errorf("a deleted one: %d", status)
	}
}

package analyst_test

import (
	"errors"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"delaybook/cmd/internal/analyst"
	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/domain"
)

// media makes a file of what FFmpeg draws or plays.
func media(t *testing.T, name string, source ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	args := append([]string{"-v", "error", "-nostdin", "-y", "-f", "lavfi"}, append(source, path)...)
	if out, err := exec.CommandContext(t.Context(), "ffmpeg", args...).CombinedOutput(); err != nil {
		t.Fatalf("ffmpeg (which .ci/setup installs): %v\n%s", err, out)
	}
	return path
}

func TestWhatIsStepped(t *testing.T) {
	t.Parallel()
	a := analyst.New(decodertest.OpenNative(t, decoder.Limits{}), nil, time.Now)
	mute := media(t, "mute.mov", "-i", "testsrc=s=160x90:r=25:d=2", "-c:v", "mjpeg")
	heard, err := a.Listen(t.Context(), mute)
	if err != nil || len(heard.Onsets) != 0 || heard.FPS != 25 || heard.DurationS != 2 {
		t.Errorf("without sound: %+v %v", heard, err)
	}
	stills, err := a.Stills(t.Context(), mute, 1.5, 3, 160)
	if err != nil || len(stills) != 3 || stills[0].Ticks != 1.52*90000 {
		t.Errorf("stills: %d %v", len(stills), err)
	}
	// A click at 0.5 s in 48 000 samples a second.
	click := media(t, "click.wav", "-i", "aevalsrc='if(eq(n,24000),0.8,0.001*random(0))':d=2:s=48000")
	heard, err = a.Listen(t.Context(), click)
	if err != nil || len(heard.Onsets) != 1 || heard.Onsets[0].AtS < 0.4999 || heard.Onsets[0].AtS > 0.5001 {
		t.Errorf("a click: %+v %v", heard, err)
	}
	e, ok := errors.AsType[*domain.Error](second(a.Stills(t.Context(), click, 0, 1, 160)))
	if !ok || e.Code != domain.Conflict {
		t.Errorf("stills of sound: %v", e)
	}
}

func second[T any](_ T, err error) error { return err }

func TestWithoutADecoderNothingIsStepped(t *testing.T) {
	t.Parallel()
	a := analyst.New(nil, errors.New("none"), time.Now)
	_, listen := a.Listen(t.Context(), "x")
	for _, err := range []error{listen, second(a.Stills(t.Context(), "x", 0, 1, 160))} {
		if e, ok := errors.AsType[*domain.Error](err); !ok || e.Code != domain.Conflict {
			t.Errorf("without a decoder: %v", err)
		}
	}
}

package pagestest_test

import (
	"os/exec"
	"path/filepath"
	"testing"

	"delaybook/api/pages/browsertest"
)

// babble is 8 s of noise that comes and goes four times a second, as syllables
// do, in two channels or files, the second of which comes 24 ms later; each has
// noise of its own, 20 dB down.
const babble = `anoisesrc=c=pink:d=8:seed=7:r=48000,tremolo=f=4:d=0.9,asplit[x][y];[y]adelay=24[late];
anoisesrc=c=white:d=8:seed=8:r=48000:a=0.03[n];anoisesrc=c=white:d=8:seed=9:r=48000:a=0.03[m];
[x][n]amix=normalize=0:duration=first[a];[late][m]amix=normalize=0:duration=first[b]`

func ffmpeg(t *testing.T, graph string, args ...string) {
	t.Helper()
	args = append([]string{"-v", "error", "-nostdin", "-y", "-filter_complex", graph}, args...)
	if out, err := exec.CommandContext(t.Context(), "ffmpeg", args...).CombinedOutput(); err != nil {
		t.Fatalf("ffmpeg (which .ci/setup installs): %v\n%s", err, out)
	}
}

// checkQuietly fills the form in and sends it: the first track is the hand-held
// microphone, the second the lectern.
func checkQuietly(phone *browsertest.Phone, files ...string) {
	phone.Open("/rigs/red-van.harbour-hall/quiet")
	phone.Within(`document.querySelector("[aria-live]")`) // the script is there
	for i, file := range files {
		phone.Pick([]string{"#file", "#file2"}[i], file)
	}
	phone.Choose("#first", "hand")
	phone.Choose("#second", "lectern")
	phone.Type(`[name="dial.lectern-delay"]`, "0")
	phone.Type(`[name="dial.hand-delay"]`, "0")
	phone.Tap(`input[name=changed][value=no]`)
	phone.Tap(browsertest.Named("Send it"))
}

func TestTwoChannelsAreComparedQuietly(t *testing.T) {
	t.Parallel()
	c := newCinema(t)
	file := filepath.Join(t.TempDir(), "both.wav")
	ffmpeg(t, babble+";[a][b]join=inputs=2:channel_layout=stereo[s]", "-map", "[s]", file)
	phone := c.joined(t, "Sam")
	checkQuietly(phone, file)
	phone.Soon("Lectern is late: it comes 24.0 ms after hand", "Give or take")
	shot(phone, "quiet-done")
	phone.Follow(browsertest.Named("Accept"))
	phone.Want("hand before lectern by 24.0 ms", "What it says of the picture")
	shot(phone, "quiet-taken")
	if m := c.measurements(t, "harbour-hall")[0]; m.Method != "tracks" || m.First != "hand" || m.Second != "lectern" {
		t.Errorf("stored: %+v", m.Measurement)
	}
}

func TestTwoFilesAreComparedQuietly(t *testing.T) {
	t.Parallel()
	c := newCinema(t)
	one, two := filepath.Join(t.TempDir(), "camera.wav"), filepath.Join(t.TempDir(), "desk.wav")
	ffmpeg(t, babble, "-map", "[a]", one, "-map", "[b]", two)
	phone := c.joined(t, "Sam")
	checkQuietly(phone, two, one)
	phone.Soon("Hand is late: it comes 24.0 ms after lectern")
	phone.Follow(browsertest.Named("Recordings of Harbour Hall"))
	phone.Want("desk.wav")
}

func TestAToneIsNoQuietCheck(t *testing.T) {
	t.Parallel()
	c := newCinema(t)
	file := filepath.Join(t.TempDir(), "tone.wav")
	ffmpeg(t, "sine=f=440:d=6:r=48000,asplit[x][y];[y]adelay=24[l];[x][l]join=inputs=2:channel_layout=stereo[s]", "-map", "[s]", file)
	phone := c.joined(t, "Sam")
	checkQuietly(phone, file)
	phone.Soon("No number", "Try this", "Record it again")
}

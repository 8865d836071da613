package cardfile_test

import (
	"bytes"
	"encoding/binary"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"delaybook/cmd/internal/cardfile"
	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/domain/card"
)

var all = flag.Bool("all", false, "read back every file of the card at its full size; by default four at a small one")

// encoders returns what makes the files, and the machine's own FFmpeg, which reads
// them back. By default that one makes them too, because it is quick; the builtin
// one makes them all with -all, and then the two are different builds.
func encoders(t *testing.T) (encoder *decoder.Decoder, native string) {
	t.Helper()
	native, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Fatalf("%v: .ci/setup installs it", err)
	}
	if *all {
		return decodertest.Open(t, decoder.Limits{}), native
	}
	return decodertest.OpenNative(t, decoder.Limits{}), native
}

// TestReadBack makes files and finds each event in them again: the flash in the
// time stamp of the first frame with half the light, the beep by its edge.
func TestReadBack(t *testing.T) {
	t.Parallel()
	rates, enlarge := []string{"24", "29.97"}, 2
	if *all {
		rates, enlarge = nil, cardfile.Enlarge
		for _, r := range card.Rates() {
			rates = append(rates, r.String())
		}
	}
	encoder, native := encoders(t)
	for _, text := range rates {
		for _, c := range card.Containers() {
			rate, err := card.ParseRate(text)
			if err != nil {
				t.Fatal(err)
			}
			f, err := card.NewFile(rate)
			if err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(t.TempDir(), card.FileName(rate, c))
			var told []int64
			if err := cardfile.Write(t.Context(), cardfile.With(encoder, enlarge), rate, c, path, func(n int64) { told = append(told, n) }); err != nil {
				t.Fatal(err)
			}
			if !slices.IsSorted(told) || len(told) == 0 || told[len(told)-1] != f.Frames {
				t.Errorf("%s %s: of %d frames, the progress told is %v", text, c, f.Frames, told)
			}
			back := readBack(t, native, path, enlarge)
			if int64(back.frames) != f.Frames {
				t.Errorf("%s %s: %d frames, want %d", text, c, back.frames, f.Frames)
			}
			if c == card.MOV && !slices.Equal(back.sound, f.Sound()) {
				t.Errorf("%s %s: the sound is not that of the card, sample for sample", text, c)
			}
			worst := compare(t, f, back)
			info, err := os.Stat(path)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%7s %s: %8d bytes, flash within %.4f ms, beep within %.4f ms, offset within %.4f ms",
				rate.Label(), c, info.Size(), worst[0], worst[1], worst[2])
		}
	}
}

// compare returns the largest errors of flashes, beeps and offsets, in ms.
func compare(t *testing.T, f *card.File, got found) (worst [3]float64) {
	t.Helper()
	if len(got.flashes) != len(f.Events) || len(got.beeps) != len(f.Events) {
		t.Fatalf("%s: %d flashes and %d beeps, want %d", f.Rate.Label(), len(got.flashes), len(got.beeps), len(f.Events))
	}
	const most = 0.1 // ms
	for k, e := range f.Truth() {
		flash, beep := (got.flashes[k]-e.PictureS)*1000, (got.beeps[k]-e.SoundS)*1000
		for i, off := range []float64{flash, beep, flash - beep} {
			worst[i] = max(worst[i], math.Abs(off))
			if math.Abs(off) > most {
				t.Errorf("%s: event %d: flash %.4f ms and beep %.4f ms off", f.Rate.Label(), e.Event, flash, beep)
			}
		}
	}
	return worst
}

// found is what a file holds, s on the axis of its presentation.
type found struct {
	frames         int
	sound          []int16
	flashes, beeps []float64
}

func readBack(t *testing.T, program, path string, enlarge int) found {
	t.Helper()
	// Time stamps in 1/90000 s beside each frame, shrunk to one cell of the flash area and one outside.
	var stamps, light bytes.Buffer
	picture := exec.CommandContext(t.Context(), program, "-v", "error", "-nostdin", "-copyts", "-i", path, "-an",
		"-filter_complex", fmt.Sprintf("[0:v]crop=%d:%d,scale=1:1:flags=area,format=gray,split[a][b]", 16*enlarge, 16*enlarge),
		"-map", "[a]", "-fps_mode", "passthrough", "-f", "rawvideo", "pipe:1",
		"-map", "[b]", "-fps_mode", "passthrough", "-enc_time_base", "1:90000", "-f", "framecrc", "pipe:2")
	picture.Stdout, picture.Stderr = &light, &stamps
	if err := picture.Run(); err != nil {
		t.Fatalf("%v: %s", err, stamps.String())
	}
	var out found
	lit := false
	for line := range strings.Lines(stamps.String()) {
		fields := strings.Split(line, ",")
		if strings.HasPrefix(line, "#") || len(fields) < 3 {
			continue
		}
		pts, err := strconv.ParseInt(strings.TrimSpace(fields[2]), 10, 64)
		if err != nil || out.frames >= light.Len() {
			t.Fatalf("line %q with %d pictures: %v", line, light.Len(), err)
		}
		if now := light.Bytes()[out.frames] > 128; now != lit {
			if lit = now; lit {
				out.flashes = append(out.flashes, float64(pts)/90000)
			}
		}
		out.frames++
	}
	sound := exec.CommandContext(t.Context(), program, "-v", "error", "-nostdin", "-i", path, "-vn", "-f", "s16le", "pipe:1")
	raw, err := sound.Output()
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+3 < len(raw); i += 4 { // two channels
		left, right := int16(binary.LittleEndian.Uint16(raw[i:])), int16(binary.LittleEndian.Uint16(raw[i+2:]))
		if math.Abs(float64(left)-float64(right)) > 33 { // 60 dB below full scale: AAC codes each channel for itself
			t.Fatalf("the channels are %d and %d at sample %d", left, right, i/4)
		}
		out.sound = append(out.sound, left)
	}
	out.beeps = beeps(out.sound)
	return out
}

// beeps finds where each beep starts. Its first 5 ms, shifted in steps of 0.05
// samples, are fitted to what is there: a codec keeps them in place and not their
// samples.
func beeps(sound []int16) []float64 {
	samples := make([]float64, len(sound))
	for i, x := range sound {
		samples[i] = float64(x) / 32768
	}
	var starts []float64
	for i := 0; i < len(samples); i++ {
		if math.Abs(samples[i]) < 0.08 {
			continue
		}
		starts = append(starts, fitBeep(samples, i)/card.SampleRate)
		i += card.SampleRate / 2
	}
	return starts
}

func fitBeep(samples []float64, near int) float64 {
	cost := func(at float64) (sum float64) {
		for i := max(near-60, 0); i < near+240; i++ {
			d := samples[i] - beepAt(float64(i)-at)
			sum += d * d
		}
		return sum
	}
	best, least := float64(near), cost(float64(near))
	for _, step := range []float64{1, 0.05} {
		for at, middle := best-60*step, best; at <= middle+25*step; at += step {
			if sum := cost(at); sum < least {
				best, least = at, sum
			}
		}
	}
	return best
}

// beepAt is the beep as the card describes it, n samples after its start.
func beepAt(n float64) float64 {
	if n < 0 {
		return 0
	}
	return math.Pow(10, -0.6) * min(1, n/48) * math.Sin(2*math.Pi*2000*n/48000)
}

func TestMain(m *testing.M) {
	code := m.Run()
	if *all {
		decodertest.Remove()
	}
	os.Exit(code)
}

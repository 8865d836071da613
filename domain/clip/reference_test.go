package clip_test

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"delaybook/domain/clip"
	"delaybook/domain/clip/camera"
)

// TestBeepsAgainstAubio compares onsets with those of aubioonset, a
// general-purpose onset detector (Brossier, Automatic Annotation of Musical Audio
// for Interactive Applications, PhD thesis, Queen Mary University of London,
// 2006; Debian package aubio-tools), on the same sound. Its windows are 512
// samples with a hop of 64, so that it cannot be closer than 10.7 ms; medians
// over all beeps are compared within that.
func TestBeepsAgainstAubio(t *testing.T) {
	t.Parallel()
	program, err := exec.LookPath("aubioonset")
	if err != nil {
		t.Fatalf("run .ci/setup aubio: %v", err)
	}
	for _, c := range []struct {
		name   string
		change func(s *camera.Scene)
	}{
		{"dry", func(s *camera.Scene) { s.RT60, s.SNR = 0, 50 }},
		{"room", func(s *camera.Scene) { s.RT60, s.DRR, s.SNR = 0.5, 6, 40 }},
	} {
		s := camera.New(21, 25, 0)
		c.change(&s)
		r := s.Film()
		got := clip.Analyse(r, clip.Options{})
		if got.Refused != nil {
			t.Fatalf("%s: refused: %+v", c.name, *got.Refused)
		}
		file := filepath.Join(t.TempDir(), c.name+".wav")
		if err := os.WriteFile(file, wav(r.Sounds[0].Channels[0], s.SampleRate), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.CommandContext(t.Context(), program, "-i", file, "-B", "512", "-H", "64", "-s", "-50", "-M", "0.4").Output()
		if err != nil {
			t.Fatal(err)
		}
		var theirs []float64
		for _, line := range strings.Fields(string(out)) {
			if v, err := strconv.ParseFloat(line, 64); err == nil {
				theirs = append(theirs, v)
			}
		}
		var apart []float64
		for _, e := range got.Events {
			for _, v := range theirs {
				if math.Abs(v-e.AtS) < 0.05 {
					apart = append(apart, 1e3*(v-e.AtS))
				}
			}
		}
		if len(apart) < len(got.Events)*2/3 {
			t.Errorf("%s: %d of %d beeps have an onset of aubioonset: %v", c.name, len(apart), len(got.Events), theirs)
			continue
		}
		slices.Sort(apart)
		if m := apart[len(apart)/2]; math.Abs(m) > 10.7 {
			t.Errorf("%s: the median differs by %.2f ms, want at most 10.7", c.name, m)
		} else {
			t.Logf("%s: median %.2f ms from %.2f to %.2f", c.name, m, apart[0], apart[len(apart)-1])
		}
	}
}

// wav is a file of one channel of 16 bits.
func wav(x []float32, rate int) []byte {
	var b bytes.Buffer
	write := func(values ...any) {
		for _, v := range values {
			_ = binary.Write(&b, binary.LittleEndian, v) // a Buffer does not fail
		}
	}
	write([]byte("RIFF"), uint32(36+2*len(x)), []byte("WAVEfmt "), uint32(16), uint16(1), uint16(1),
		uint32(rate), uint32(2*rate), uint16(2), uint16(16), []byte("data"), uint32(2*len(x)))
	for _, v := range x {
		write(int16(math.Round(32767 * float64(min(max(v, -1), 1)))))
	}
	return b.Bytes()
}

package onset_test

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"delaybook/domain/onset"
	"delaybook/domain/recording"
)

const rate = 48000

// room is noise of a standard deviation, with hum of 50 Hz ten times as large.
func room(seconds, sd float64, seed uint64) []float32 {
	random := rand.New(rand.NewPCG(seed, 1))
	x := make([]float32, int(seconds*rate))
	for i := range x {
		x[i] = float32(sd*random.NormFloat64() + 10*sd*math.Sin(2*math.Pi*50*float64(i)/rate))
	}
	return x
}

// clap adds a burst of noise that rises within 0.2 ms and dies away with a time
// constant of 6 ms, as hands do at an arm's length (common practice, no source).
func clap(x []float32, at, peak float64, seed uint64) {
	random := rand.New(rand.NewPCG(seed, 2))
	start := int(math.Round(at * rate))
	for i := range rate / 20 {
		t := float64(i) / rate
		x[start+i] += float32(peak * math.Min(1, t/0.2e-3) * math.Exp(-t/6e-3) * (2*random.Float64() - 1))
	}
}

var at = []float64{0.8123, 1.9571, 3.1404, 4.4002}

func claps(seed uint64) []float32 {
	x := room(5.5, 0.002, seed)
	for i, t := range at {
		clap(x, t, 0.6/float64(i+1), seed+uint64(i))
	}
	return x
}

// The half level is reached within the rise of 0.2 ms and, of noise, within a few
// samples more: 1 ms, a thirtieth of a frame, is far more than that.
func TestClapsAreFoundWhereTheyWere(t *testing.T) {
	t.Parallel()
	for seed := range uint64(10) {
		sound := recording.Sound{Stream: 1, Rate: rate, StartS: 0.25, Channels: [][]float32{room(5.5, 0.05, seed+50), claps(seed)}}
		track, found := onset.Find([]recording.Sound{sound}, 12)
		if want := (recording.Track{Stream: 1, Channel: 1}); track != want {
			t.Fatalf("seed %d: %+v, want %+v", seed, track, want)
		}
		if len(found) != len(at) {
			t.Fatalf("seed %d: %+v, want %v", seed, found, at)
		}
		for i, o := range found {
			if d := o.AtS - 0.25 - at[i]; d < -0.1e-3 || d > 1e-3 {
				t.Errorf("seed %d: clap %d found %.2f ms late", seed, i, 1000*d)
			}
		}
	}
}

// A tone of half the rate whose amplitude grows from 0 within 4 ms and dies away:
// differenced it has twice that amplitude, half of which is reached after 2 ms.
func TestTheInstantIsAtHalfOfThePeak(t *testing.T) {
	t.Parallel()
	x := room(2, 1e-4, 1)
	const start, rise = rate, 4 * rate / 1000
	for i := range 20 * rate / 1000 {
		a := 0.4 * math.Min(1, float64(i)/rise) * math.Exp(-math.Max(0, float64(i-rise))/200)
		x[start+i] += float32(a * float64(1-2*(i%2)))
	}
	_, found := onset.Find([]recording.Sound{{Rate: rate, Channels: [][]float32{x}}}, 1)
	if len(found) != 1 || math.Abs(found[0].AtS-1.002) > 0.05e-3 { // two samples: noise and the odd one of the tone
		t.Errorf("found %+v, want 1.002", found)
	}
}

func TestTheClearestChannelIsHeard(t *testing.T) {
	t.Parallel()
	far, near := room(2, 0.01, 1), room(2, 0.001, 2)
	clap(far, 1.01, 0.3, 3)
	clap(near, 1, 0.3, 3)
	for i, channels := range [][][]float32{{near, far}, {far, near}} {
		track, found := onset.Find([]recording.Sound{{Rate: rate, Channels: channels}}, 9)
		if track.Channel != i || len(found) != 1 || math.Abs(found[0].AtS-1) > 1e-3 {
			t.Errorf("order %d: channel %d, %+v", i, track.Channel, found)
		}
	}
}

func TestTheLoudestAreKept(t *testing.T) {
	t.Parallel()
	_, found := onset.Find([]recording.Sound{{Rate: rate, Channels: [][]float32{claps(3)}}}, 2)
	if len(found) != 2 || math.Abs(found[0].AtS-at[0]) > 1e-3 || math.Abs(found[1].AtS-at[1]) > 1e-3 {
		t.Errorf("found %+v, want the first two", found)
	}
}

// An echo is no second clap, and a tone that goes on is no sudden sound after it began.
func TestWhatIsNotSuddenIsLeftOut(t *testing.T) {
	t.Parallel()
	x := room(3, 0.001, 1)
	clap(x, 1, 0.5, 1)
	clap(x, 1.06, 0.4, 2)
	if _, found := onset.Find([]recording.Sound{{Rate: rate, Channels: [][]float32{x}}}, 12); len(found) != 1 {
		t.Errorf("a clap and its echo gave %+v", found)
	}
	nan := room(3, 0.001, 2)
	nan[rate] = float32(math.NaN())
	for _, quiet := range [][]float32{nil, make([]float32, 10), make([]float32, 3*rate), room(3, 0.02, 4), nan} {
		if _, found := onset.Find([]recording.Sound{{Rate: rate, Channels: [][]float32{quiet}}}, 12); len(found) > 0 {
			t.Errorf("in a steady sound of %d samples: %+v", len(quiet), found)
		}
	}
	if _, found := onset.Find([]recording.Sound{{Rate: 0, Channels: [][]float32{x}}, {Rate: rate, StartS: math.NaN(), Channels: [][]float32{x}}}, 12); found != nil {
		t.Errorf("without a rate or a start: %+v", found)
	}
}

// The onset detector of aubio (Debian package aubio-tools, https://aubio.org),
// made for music, finds the same claps. It steps by 64 samples and smooths over
// windows of 256, so that 10 ms is what it can be held to.
func TestAubioHearsTheSameClaps(t *testing.T) {
	t.Parallel()
	x := claps(7)
	path := filepath.Join(t.TempDir(), "claps.wav")
	if err := os.WriteFile(path, wav(x), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), "aubioonset", "-i", path, "-B", "256", "-H", "64", "-O", "hfc", "-t", "0.6", "-s", "-60", "-M", "0.15").Output()
	if err != nil {
		t.Fatalf("aubioonset: %v; .ci/setup installs it", err)
	}
	var theirs []float64
	for line := range strings.Lines(string(out)) {
		s, err := strconv.ParseFloat(strings.TrimSpace(line), 64)
		if err != nil {
			t.Fatalf("aubioonset says %q", line)
		}
		theirs = append(theirs, s)
	}
	_, found := onset.Find([]recording.Sound{{Rate: rate, Channels: [][]float32{x}}}, 12)
	for _, o := range found {
		if !slices.ContainsFunc(theirs, func(s float64) bool { return math.Abs(s-o.AtS) < 10e-3 }) {
			t.Errorf("aubio hears %v, not %.4f", theirs, o.AtS)
		}
	}
	if len(found) != len(at) {
		t.Errorf("found %+v", found)
	}
}

// wav writes a mono file of 16 bits.
func wav(x []float32) []byte {
	var out bytes.Buffer
	n := uint32(2 * len(x))
	out.WriteString("RIFF")
	_ = binary.Write(&out, binary.LittleEndian, n+36)
	out.WriteString("WAVEfmt ")
	for _, v := range []any{uint32(16), uint16(1), uint16(1), uint32(rate), uint32(2 * rate), uint16(2), uint16(16)} {
		_ = binary.Write(&out, binary.LittleEndian, v)
	}
	out.WriteString("data")
	_ = binary.Write(&out, binary.LittleEndian, n)
	for _, v := range x {
		_ = binary.Write(&out, binary.LittleEndian, int16(math.Round(32767*float64(v))))
	}
	return out.Bytes()
}

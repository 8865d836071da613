package decoder_test

import (
	"math"
	"path/filepath"
	"testing"

	"delaybook/cmd/internal/decoder"
	"delaybook/domain/recording"
	"delaybook/domain/timebase"
)

// A flashClip is a file of flashes and beeps that start together at frame starts, and a reader so simple that it
// cannot share an error with an analysis: a flash is the first frame brighter than half, a beep the first sample
// louder than a quarter of the loudest.
type flashClip struct {
	rate   timebase.Rate
	flash  []int // frames at which a flash of 4 frames and a beep of 60 ms start
	frames int
	scan   recording.Scan
}

func usualClip(tb testing.TB, rate string) flashClip {
	tb.Helper()
	r, err := timebase.ParseRate(rate)
	if err != nil {
		tb.Fatal(err)
	}
	return flashClip{rate: r, flash: []int{13, 34, 61}, frames: 80}
}

func (c flashClip) at(frame int) float64 { return float64(frame) * c.rate.FrameMS() / 1000 }

func (c flashClip) lit(frame int) bool {
	for _, f := range c.flash {
		if frame >= f && frame < f+4 {
			return true
		}
	}
	return false
}

func (c flashClip) picture(i int, luma []byte) bool {
	value := byte(16)
	if c.lit(i) {
		value = 235
	}
	for k := range luma {
		luma[k] = value
	}
	return i < c.frames
}

func (c flashClip) sound() []float32 {
	samples := make([]float32, int(c.at(c.frames)*48000))
	for _, f := range c.flash {
		start := int(math.Round(c.at(f) * 48000))
		for i := range 48 * 60 {
			// A cosine begins at its peak, so that the first sample is loud.
			samples[start+i] = float32(0.5 * math.Cos(2*math.Pi*2000*float64(i)/48000))
		}
	}
	return samples
}

// file makes the clip.
func (c flashClip) file(tb testing.TB, d *decoder.Decoder, name, video, audio string) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), name)
	err := d.Encode(tb.Context(), decoder.EncodeOptions{
		Path: path, Video: video, Audio: audio, Width: 160, Height: 90, Rate: c.rate, Scan: c.scan,
		Picture: c.picture, Sound: [][]float32{c.sound()},
	})
	if err != nil {
		tb.Fatal(err)
	}
	return path
}

// offsets answers picture minus sound in ms of each flash with the beep next to it.
func offsets(tb testing.TB, r *recording.Recording) []float64 {
	tb.Helper()
	if r.Video == nil || len(r.Sounds) == 0 {
		tb.Fatalf("no picture or no sound: %+v", r)
	}
	beeps := beepTimes(r.Sounds[0])
	var all []float64
	for _, flash := range flashTimes(r.Video) {
		best := math.Inf(1)
		for _, beep := range beeps {
			if d := flash - beep; math.Abs(d) < math.Abs(best) {
				best = d
			}
		}
		all = append(all, best*1000)
	}
	return all
}

func flashTimes(v *recording.Video) []float64 {
	var times []float64
	dark := false
	for i := range v.PTS {
		sum := 0
		for _, b := range v.Picture(i) {
			sum += int(b)
		}
		bright := sum > 125*len(v.Picture(i))
		if bright && dark {
			times = append(times, v.PTS[i])
		}
		dark = !bright
	}
	return times
}

func beepTimes(s recording.Sound) []float64 {
	var peak float32
	for _, x := range s.Channels[0] {
		peak = max(peak, x, -x)
	}
	var times []float64
	quietSince := -4800
	for i, x := range s.Channels[0] {
		if max(x, -x) < peak/4 {
			continue
		}
		if i-quietSince > 4800 {
			times = append(times, s.StartS+float64(i)/float64(s.Rate))
		}
		quietSince = i
	}
	return times
}

// within checks that each offset is as wanted to a tolerance, both in ms, and how many there are.
func within(tb testing.TB, what string, got []float64, n int, want, tolerance float64) {
	tb.Helper()
	if len(got) != n {
		tb.Errorf("%s: %d flashes, want %d: %v", what, len(got), n, got)
	}
	for _, x := range got {
		if math.Abs(x-want) > tolerance {
			tb.Errorf("%s: offsets %.3f ms, want %v +- %v", what, got, want, tolerance)
			return
		}
	}
}

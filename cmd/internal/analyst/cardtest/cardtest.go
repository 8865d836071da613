// Package cardtest makes recordings of the flash-and-beep card for tests, with a
// known offset.
package cardtest

import (
	"math"
	"path/filepath"
	"testing"

	"delaybook/cmd/internal/decoder"
	"delaybook/domain/card"
	"delaybook/domain/timebase"
)

const (
	soundRate = 48000
	width     = 160
	height    = 90
)

// File makes a recording of the card at 29.97 frames a second, exposed for half
// of each frame, in which the picture arrives offsetMS after the sound.
func File(tb testing.TB, d *decoder.Decoder, offsetMS, seconds float64) string {
	tb.Helper()
	rate, err := timebase.ParseRate("29.97")
	if err != nil {
		tb.Fatal(err)
	}
	events := Events(seconds)
	path := filepath.Join(tb.TempDir(), "card.mov")
	err = d.Encode(tb.Context(), decoder.EncodeOptions{
		Path: path, Video: "mjpeg", Audio: "pcm", Width: width, Height: height, Rate: rate,
		Picture: func(i int, luma []byte) bool {
			return picture(luma, rate.FrameMS()/1000, i, events, offsetMS/1000, seconds)
		},
		Sound: [][]float32{beeps(events, seconds)},
	})
	if err != nil {
		tb.Fatal(err)
	}
	return path
}

// Events are when the beeps begin, seconds.
func Events(seconds float64) []float64 {
	var out []float64
	intervals := card.Intervals()
	for t, i := 0.7, 0; t < seconds-0.6; i++ {
		out = append(out, t)
		t += float64(intervals[i%len(intervals)]) / 1000
	}
	return out
}

// picture fills one frame: the shutter is open for the middle half of it, and the
// camera's curve is 1/2.2.
func picture(luma []byte, period float64, i int, events []float64, offset, seconds float64) bool {
	const flash = 0.160
	middle := (float64(i) + 0.5) * period
	if middle > seconds {
		return false
	}
	open := period / 2
	lit := 0.0
	for _, t := range events {
		from, to := math.Max(t+offset, middle-open/2), math.Min(t+offset+flash, middle+open/2)
		lit += math.Max(0, to-from) / open
	}
	level := byte(16 + 200*math.Pow(math.Min(lit, 1), 1/2.2))
	for y := range height {
		for x := range width {
			value := byte(40)
			if y > height/4 && y < 3*height/4 && x > width/4 && x < 3*width/4 {
				value = level
			}
			luma[y*width+x] = value
		}
	}
	return true
}

// beeps are 60 ms of 2000 Hz that rise within 1 ms.
func beeps(events []float64, seconds float64) []float32 {
	out := make([]float32, int(seconds*soundRate))
	for _, t := range events {
		start := int(math.Round(t * soundRate))
		const n = 60 * soundRate / 1000
		for k := range n {
			rise, fall := float64(k)/(soundRate/1000), float64(n-k)/(4*soundRate/1000)
			envelope := 0.25 * math.Min(1, math.Min(rise, fall))
			if start+k < len(out) {
				out[start+k] += float32(envelope * math.Sin(2*math.Pi*2000*float64(k)/soundRate))
			}
		}
	}
	return out
}

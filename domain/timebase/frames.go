package timebase

import (
	"fmt"
	"math"
	"math/big"
	"strconv"
)

// HalfFrames is a number of half frames: what a person reads in an editor is a
// multiple of half a frame. Five frames are HalfFrames(10).
type HalfFrames int64

// HalfFramesOf returns frames as half frames. A value that is not a multiple of
// 0.5, not finite, or beyond ±2^62 halves is an *InputError.
func HalfFramesOf(frames float64) (HalfFrames, error) {
	half := frames * 2 // exact: a change of exponent
	if half == math.Trunc(half) && math.Abs(half) <= 1<<62 {
		return HalfFrames(half), nil
	}
	text := strconv.FormatFloat(frames, 'g', -1, 64)
	if !(math.Abs(half) <= 1<<50) {
		return 0, inputError(text, "not a number of frames", `a multiple of 0.5, like "5" or "6.5"`)
	}
	near := math.Round(half) / 2
	return 0, inputError(text, "frames are read to half a frame",
		fmt.Sprintf("a multiple of 0.5, like %q", strconv.FormatFloat(near, 'g', -1, 64)))
}

// Frames returns the number in frames.
func (h HalfFrames) Frames() float64 { return float64(h) / 2 }

// Rat returns the number in frames, exactly.
func (h HalfFrames) Rat() *big.Rat { return big.NewRat(int64(h), 2) }

// String returns the number in frames: "5" or "6.5".
func (h HalfFrames) String() string {
	text := strconv.FormatInt(int64(h)/2, 10)
	if h%2 == 0 {
		return text
	}
	if h == -1 {
		text = "-0" // -1/2 truncates to an unsigned zero
	}
	return text + ".5"
}

// FrameMS returns the duration of one frame in ms, rounded once.
func (r Rate) FrameMS() float64 { return r.FramesMS(1) }

// FramesMS returns the duration of n whole frames in ms, rounded once.
func (r Rate) FramesMS(n int64) float64 {
	r.must()
	return quotient(n, 1000*r.den, r.num)
}

// HalfFramesMS returns the duration of h half frames in ms, rounded once.
func (r Rate) HalfFramesMS(h HalfFrames) float64 {
	r.must()
	return quotient(int64(h), 500*r.den, r.num)
}

// SpanRat returns the duration of any number of frames in ms, exactly.
func (r Rate) SpanRat(frames *big.Rat) *big.Rat {
	r.must()
	frame := big.NewRat(1000*r.den, r.num)
	return frame.Mul(frame, frames)
}

// FramesRat returns how many frames ms lasts, exactly.
func (r Rate) FramesRat(ms *big.Rat) *big.Rat {
	r.must()
	perMS := big.NewRat(r.num, 1000*r.den)
	return perMS.Mul(perMS, ms)
}

// MSFrames returns how many frames ms lasts, rounded once. It returns ErrRange
// for NaN and infinities.
func (r Rate) MSFrames(ms float64) (float64, error) {
	exact, err := RatOfMS(ms)
	if err != nil {
		return 0, err
	}
	return Float(r.FramesRat(exact)), nil
}

// NearestFrames returns the whole number of frames nearest to ms, halves away
// from zero. It returns ErrRange for NaN, infinities and results outside int64.
func (r Rate) NearestFrames(ms float64) (int64, error) {
	exact, err := RatOfMS(ms)
	if err != nil {
		return 0, err
	}
	return Nearest(r.FramesRat(exact))
}

// NearestHalfFrames is NearestFrames on the grid of half frames.
func (r Rate) NearestHalfFrames(ms float64) (HalfFrames, error) {
	exact, err := RatOfMS(ms)
	if err != nil {
		return 0, err
	}
	frames := r.FramesRat(exact)
	half, err := Nearest(frames.Add(frames, frames))
	return HalfFrames(half), err
}

// FramesSamples returns how many samples h half frames last, exactly: five
// frames at 30000/1001 are 8008 samples at 48 kHz, one frame 8008/5.
func (r Rate) FramesSamples(h HalfFrames, s SampleRate) *big.Rat {
	return s.SamplesRat(r.SpanRat(h.Rat()))
}

// SampleCycle returns the smallest whole number of frames that lasts a whole
// number of samples, and that number: 5 and 8008 for 30000/1001 at 48 kHz.
func (r Rate) SampleCycle(s SampleRate) (frames, samples int64) {
	r.must()
	s.must()
	// den/num * hz samples a frame: with num, den <= 10^9 and hz < 2^20, below 2^50.
	n := r.den * s.hz
	g := gcd(n, r.num)
	return r.num / g, n / g
}

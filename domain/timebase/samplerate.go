package timebase

import (
	"math/big"
	"strconv"
	"strings"
)

const (
	minHz = 8_000
	maxHz = 768_000
)

// A SampleRate is a whole number of samples per second. Sample rates compare
// with ==. The zero SampleRate is not valid: NewSampleRate and ParseSampleRate
// return valid ones, and the arithmetic methods panic on a zero SampleRate.
type SampleRate struct{ hz int64 }

// NewSampleRate returns hz samples per second, from 8000 to 768000. The error is
// an *InputError.
func NewSampleRate(hz int64) (SampleRate, error) {
	text := strconv.FormatInt(hz, 10)
	switch {
	case hz > 0 && hz < 1000:
		return SampleRate{}, inputError(text, "a sample rate is in samples per second, not in kHz",
			`a whole number from 8000 to 768000, like "48000"`)
	case hz < minHz || hz > maxHz:
		return SampleRate{}, inputError(text, "the sample rate is outside 8000 to 768000 samples per second",
			`a whole number like "48000"`)
	}
	return SampleRate{hz}, nil
}

// ParseSampleRate reads a whole number of samples per second, like "48000". The
// error is an *InputError; for "44.1k" and its like it names the number to send.
func ParseSampleRate(s string) (SampleRate, error) {
	text := strings.TrimSpace(s)
	if digits(text) {
		hz, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return SampleRate{}, inputError(text, "the number is too large for a sample rate", `a whole number like "48000"`)
		}
		return NewSampleRate(hz)
	}
	return SampleRate{}, inputError(text, "not a whole number of samples per second", sampleRateHint(text))
}

// sampleRateHint turns "48k", "44.1 kHz" and "44.1" into the number that is meant.
func sampleRateHint(text string) string {
	k := strings.TrimSuffix(strings.ToLower(text), "hz")
	k = strings.TrimSpace(strings.TrimSuffix(k, "k"))
	if f, err := strconv.ParseFloat(k, 64); err == nil {
		if f < 1000 { // NaN falls through NewSampleRate's bounds or this one
			f *= 1000
		}
		if hz := int64(f + 0.5); f >= minHz && f <= maxHz {
			return strconv.Quote(strconv.FormatInt(hz, 10))
		}
	}
	return `a whole number like "48000"`
}

// Hz returns samples per second; 0 for the zero SampleRate.
func (s SampleRate) Hz() int64 { return s.hz }

// IsZero reports whether s is the zero SampleRate, which is not valid.
func (s SampleRate) IsZero() bool { return s == SampleRate{} }

// String returns samples per second in decimal, which ParseSampleRate reads back.
func (s SampleRate) String() string { return strconv.FormatInt(s.hz, 10) }

// SpanRat returns the duration of n samples in ms, exactly.
func (s SampleRate) SpanRat(n int64) *big.Rat {
	s.must()
	ms := new(big.Rat).SetInt64(n)
	return ms.Mul(ms, big.NewRat(1000, s.hz))
}

// SamplesMS returns the duration of n samples in ms, rounded once.
func (s SampleRate) SamplesMS(n int64) float64 {
	s.must()
	return quotient(n, 1000, s.hz)
}

// SamplesRat returns how many samples ms lasts, exactly.
func (s SampleRate) SamplesRat(ms *big.Rat) *big.Rat {
	s.must()
	return new(big.Rat).Mul(ms, big.NewRat(s.hz, 1000))
}

// NearestSamples returns the whole number of samples nearest to ms, halves away
// from zero. It returns ErrRange for NaN, infinities and results outside int64.
func (s SampleRate) NearestSamples(ms float64) (int64, error) {
	exact, err := RatOfMS(ms)
	if err != nil {
		return 0, err
	}
	return Nearest(s.SamplesRat(exact))
}

func (s SampleRate) must() {
	if s.hz == 0 {
		panic("timebase: the zero SampleRate has no samples")
	}
}

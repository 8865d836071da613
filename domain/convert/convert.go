// Package convert turns one delay, given in frames, milliseconds, samples or a
// distance in air, into all of them.
//
// It is what the crews' paper table was for, without mixing up 30 and 29.97.
// It works on texts, so that a query string and a command line give the same
// digits and no decimal goes through a binary fraction on its way in. It does
// not know rigs or measurements.
//
// Frames, milliseconds and samples are computed as exact rationals and given
// both exactly, as text ("8008/5"), and as a number rounded once. A distance
// goes through the speed of sound, an irrational number, and has no exact form.
//
// It imports the standard library, timebase and air.
package convert

import (
	"math/big"

	"delaybook/domain/air"
	"delaybook/domain/timebase"
)

// DefaultSampleRate is the sample rate of a query that states none, in samples
// per second.
const DefaultSampleRate = "48000"

// MaxMS is the longest delay, either way, in ms: eleven days and a half. It keeps
// every count far inside int64.
const MaxMS = 1_000_000_000

// A Query is what a person asks: exactly one of Frames, MS, Samples, Metres and
// Feet, and what it takes to read it. An empty text is an absent one. Numbers are
// decimals or fractions: "5", "-6.5", "1001/6". A negative delay is sound late.
type Query struct {
	Frames     string // frames; needs Rate
	MS         string // milliseconds
	Samples    string // samples at SampleRate
	Metres     string // metres of air, 0 or more
	Feet       string // feet of air, 0 or more
	Rate       string // frames per second, as timebase.ParseRate reads it; absent: the answer has no frames
	SampleRate string // samples per second; absent: DefaultSampleRate
	AirC       string // air temperature in degrees Celsius; absent: air.DefaultCelsius
}

// A Result is one delay in every unit.
type Result struct {
	MS      float64  `json:"ms"`                             // rounded once
	MSExact string   `json:"ms_exact,omitempty"`             // "1001/6"; empty if the query was a distance
	Frames  *Frames  `json:"frames" extensions:"x-nullable"` // nil without a rate
	Samples *Samples `json:"samples"`
	Air     *Air     `json:"air"`
}

// Frames is a delay in frames.
type Frames struct {
	Rate         timebase.Rate `json:"rate" swaggertype:"string" example:"30000/1001"`
	Label        string        `json:"label"`    // "29.97"
	FrameMS      float64       `json:"frame_ms"` // the duration of one frame
	Value        float64       `json:"value"`    // rounded once
	Exact        string        `json:"exact,omitempty"`
	NearestHalf  float64       `json:"nearest_half"` // a multiple of 0.5; ties away from zero
	Nearest      int64         `json:"nearest"`      // whole frames; ties away from zero
	NearestMS    float64       `json:"nearest_ms"`   // the duration of Nearest
	CycleFrames  int64         `json:"cycle_frames"` // the fewest frames that last whole samples: 5 at 29.97 and 48 kHz
	CycleSamples int64         `json:"cycle_samples"`
}

// Samples is a delay in samples.
type Samples struct {
	SampleRate timebase.SampleRate `json:"sample_rate" swaggertype:"integer" example:"48000"`
	Value      float64             `json:"value"` // rounded once
	Exact      string              `json:"exact,omitempty"`
	Nearest    int64               `json:"nearest"` // ties away from zero
	NearestMS  float64             `json:"nearest_ms"`
}

// Air is a delay as a distance that sound travels.
type Air struct {
	Celsius  float64 `json:"air_c"`
	SpeedMPS float64 `json:"speed_m_s"`
	Metres   float64 `json:"metres"`
	Feet     float64 `json:"feet"`
}

// Convert answers a query. The error is an Errors with every field that is
// wrong.
func Convert(q Query) (Result, error) {
	p := parse(q)
	if len(p.bad) > 0 {
		return Result{}, p.bad
	}
	out := Result{MS: timebase.Float(p.ms), Samples: p.samples(), Air: p.air()}
	if p.exact {
		out.MSExact = p.ms.RatString()
	}
	if !p.rate.IsZero() {
		out.Frames = p.frames()
	}
	return out, nil
}

func (p *parsed) frames() *Frames {
	frames := p.rate.FramesRat(p.ms)
	out := &Frames{
		Rate: p.rate, Label: p.rate.Label(), FrameMS: p.rate.FrameMS(),
		Value: timebase.Float(frames), Exact: p.text(frames),
		Nearest:     nearest(frames),
		NearestHalf: timebase.HalfFrames(nearest(new(big.Rat).Add(frames, frames))).Frames(),
	}
	out.NearestMS = p.rate.FramesMS(out.Nearest)
	out.CycleFrames, out.CycleSamples = p.rate.SampleCycle(p.sampleRate)
	return out
}

func (p *parsed) samples() *Samples {
	samples := p.sampleRate.SamplesRat(p.ms)
	out := &Samples{
		SampleRate: p.sampleRate, Value: timebase.Float(samples), Exact: p.text(samples), Nearest: nearest(samples),
	}
	out.NearestMS = p.sampleRate.SamplesMS(out.Nearest)
	return out
}

func (p *parsed) air() *Air {
	out := &Air{Celsius: p.at.Celsius(), SpeedMPS: p.at.Speed()}
	out.Metres, out.Feet = p.metres, air.FeetOfMetres(p.metres)
	return out
}

// text is the exact form, which a distance has not.
func (p *parsed) text(x *big.Rat) string {
	if !p.exact {
		return ""
	}
	return x.RatString()
}

// nearest cannot leave int64: MaxMS at the highest rates is below 10^12.
func nearest(x *big.Rat) int64 {
	n, err := timebase.Nearest(x)
	if err != nil {
		panic("convert: a delay within MaxMS left int64: " + err.Error())
	}
	return n
}

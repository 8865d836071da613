package clip

import (
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"delaybook/domain/recording"
)

const (
	cardHz  = 2000.0
	lowHz   = 350.0
	highHz  = 6000.0
	gridS   = 1e-3 // of the slow base band
	burstMS = 50   // of the card's 60 ms that are taken together
)

// A channel is one channel of sound.
type channel struct {
	track  recording.Track
	rate   float64
	startS float64
	x      []float32
}

// at returns the sample nearest to an instant, which may lie outside.
func (c *channel) at(t float64) int { return int(math.Round((t - c.startS) * c.rate)) }

// channels lists what can be listened to, with samples that are not numbers
// silenced.
func channels(sounds []recording.Sound) []channel {
	var out []channel
	for _, s := range sounds {
		if s.Rate < 8000 || s.Rate > 384000 || math.IsNaN(s.StartS) || math.IsInf(s.StartS, 0) {
			continue
		}
		for i, x := range s.Channels {
			if len(x) < s.Rate/2 {
				continue
			}
			out = append(out, channel{
				track: recording.Track{Stream: s.Stream, Channel: i},
				rate:  float64(s.Rate), startS: s.StartS, x: finite(x),
			})
		}
	}
	return out
}

func finite(x []float32) []float32 {
	bad := func(v float32) bool { return !(math.Abs(float64(v)) <= 16) } // also NaN
	if !slices.ContainsFunc(x, bad) {
		return x
	}
	out := slices.Clone(x)
	for i, v := range out {
		if bad(v) {
			out[i] = 0
		}
	}
	return out
}

// baseband mixes a frequency down to 0 and adds up steps of gridS: a tone of
// amplitude a gives a/2 a step.
func (c *channel) baseband(hz float64) []complex128 {
	n := int(math.Round(c.rate * gridS))
	out := make([]complex128, len(c.x)/n)
	turn := cmplx.Rect(1, -2*math.Pi*hz/c.rate)
	for k := range out {
		// From the start of each step anew, so that rounding does not add up.
		phasor := cmplx.Rect(1, math.Mod(-2*math.Pi*hz/c.rate*float64(k*n), 2*math.Pi))
		var re, im float64
		pr, pi := real(phasor), imag(phasor)
		tr, ti := real(turn), imag(turn)
		for _, v := range c.x[k*n : (k+1)*n] {
			re += float64(v) * pr
			im += float64(v) * pi
			pr, pi = pr*tr-pi*ti, pr*ti+pi*tr
		}
		out[k] = complex(re/float64(n), im/float64(n))
	}
	return out
}

// stepS is the exact length of a step of baseband.
func (c *channel) stepS() float64 { return math.Round(c.rate*gridS) / c.rate }

// burstBins returns the frequencies that come in bursts, the strongest first:
// where the loudest 4 % of the time are far above the median.
func (c *channel) burstBins(most int) []float64 {
	size := 1
	for float64(size) < c.rate*0.021 {
		size *= 2
	}
	if len(c.x) < 8*size {
		return nil
	}
	fft := fourier.NewFFT(size)
	lo, hi := int(math.Ceil(lowHz*float64(size)/c.rate)), int(min(highHz, c.rate*0.45)*float64(size)/c.rate)
	power := make([][]float64, hi-lo+1)
	frame, coeff := make([]float64, size), make([]complex128, size/2+1)
	for from := 0; from+size <= len(c.x); from += size {
		for i := range frame {
			w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(size))
			frame[i] = w * float64(c.x[from+i])
		}
		fft.Coefficients(coeff, frame)
		for b := range power {
			z := coeff[lo+b]
			power[b] = append(power[b], real(z)*real(z)+imag(z)*imag(z))
		}
	}
	score := make([]float64, len(power))
	for b, p := range power {
		score[b] = quantile(p, 0.97) / (median(p) + 1e-12)
		if quantile(p, 0.97) < 1e-9*float64(size*size) {
			score[b] = 0
		}
	}
	var out []float64
	for range most {
		b := slices.Index(score, slices.Max(score))
		if score[b] < 4 {
			break
		}
		out = append(out, float64(lo+b)*c.rate/float64(size))
		for i := max(0, b-2); i <= min(len(score)-1, b+2); i++ {
			score[i] = 0
		}
	}
	return out
}

// refine returns the frequency of a tone near hz from how its phase turns while
// the bursts last: over one step, and then, since that is known to 50 Hz, over
// ten, which noise moves ten times less.
func refine(z []complex128, starts []int, hz, stepS float64) float64 {
	turned := func(lag int, by float64) float64 {
		var sum complex128
		for _, k := range starts {
			for j := k + 4; j < min(k+burstMS-4, len(z))-lag; j++ {
				sum += z[j+lag] * cmplx.Conj(z[j])
			}
		}
		if sum == 0 {
			return by
		}
		expected := 2 * math.Pi * by * stepS * float64(lag)
		return by + cmplx.Phase(sum*cmplx.Rect(1, -expected))/(2*math.Pi*stepS*float64(lag))
	}
	return hz + turned(10, turned(1, 0))
}

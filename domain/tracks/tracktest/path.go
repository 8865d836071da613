package tracktest

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Scale brings x to unit power.
func Scale(x []float64) []float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = v / math.Sqrt(max(sum/float64(len(x)), 1e-30))
	}
	return out
}

// Add returns x at unit power with independent white noise snr dB below.
func Add(r *rand.Rand, x []float64, snr float64) []float64 {
	out, size := Scale(x), math.Pow(10, -snr/20)
	for i := range out {
		out[i] += size * r.NormFloat64()
	}
	return out
}

// Delay returns x later by s seconds, circularly, exact between samples.
func Delay(x []float64, s float64) []float64 {
	fft := fourier.NewFFT(len(x))
	g := fft.Coefficients(nil, x)
	for k := range g {
		turn := -2 * math.Pi * float64(k) * s * Rate / float64(len(x))
		g[k] *= complex(math.Cos(turn), math.Sin(turn)) / complex(float64(len(x)), 0)
	}
	return fft.Sequence(nil, g)
}

// Room returns x in a room: the direct sound, then after 3 ms reverberation that
// falls by 60 dB in rt60 seconds and is ratio dB weaker than the direct sound.
func Room(r *rand.Rand, x []float64, rt60, ratio float64) []float64 {
	response := make([]float64, int(rt60*Rate))
	power := 0.0
	for i := int(0.003 * Rate); i < len(response); i++ {
		response[i] = r.NormFloat64() * math.Exp(-6.91*float64(i)/(rt60*Rate))
		power += response[i] * response[i]
	}
	for i := range response {
		response[i] *= math.Pow(10, -ratio/20) / math.Sqrt(power)
	}
	response[0] = 1
	return convolve(x, response)
}

func convolve(x, response []float64) []float64 {
	n := 1
	for n < len(x)+len(response) {
		n *= 2
	}
	fft := fourier.NewFFT(n)
	padded := func(v []float64) []complex128 {
		return fft.Coefficients(nil, append(make([]float64, 0, n), append(v[:len(v):len(v)], make([]float64, n-len(v))...)...))
	}
	a, b := padded(x), padded(response)
	for k := range a {
		a[k] *= b[k] / complex(float64(n), 0)
	}
	return fft.Sequence(nil, a)[:len(x)]
}

// CameraMic returns x through the pass band of a small microphone, 250 to
// 3400 Hz, 12 dB an octave on either side. Its own delay is real: about 0.06 ms.
func CameraMic(x []float64) []float64 {
	return biquad(biquad(x, 250, true), 3400, false)
}

// biquad is a second-order Butterworth high- or low-pass by the bilinear transform.
func biquad(x []float64, hz float64, high bool) []float64 {
	k := math.Tan(math.Pi * hz / Rate)
	norm := 1 / (1 + math.Sqrt2*k + k*k)
	b0, b1 := k*k*norm, 2*k*k*norm
	if high {
		b0, b1 = norm, -2*norm
	}
	a1, a2 := 2*(k*k-1)*norm, (1-math.Sqrt2*k+k*k)*norm
	out := make([]float64, len(x))
	x1, x2, y1, y2 := 0.0, 0.0, 0.0, 0.0
	for i, v := range x {
		y := b0*v + b1*x1 + b0*x2 - a1*y1 - a2*y2
		out[i] = y
		x1, x2, y1, y2 = v, x1, y, y1
	}
	return out
}

// Drift returns x as a recorder stores it whose sound falls behind by ppm
// microseconds a second, not at all in the middle. It interpolates with 32
// zero crossings of a Lanczos kernel.
func Drift(x []float64, ppm float64) []float64 {
	const half = 16
	out := make([]float64, len(x))
	middle := float64(len(x)) / 2
	for i := range out {
		at := float64(i) - (float64(i)-middle)*ppm*1e-6
		base := int(math.Floor(at))
		part := at - float64(base)
		if part == 0 {
			if base >= 0 && base < len(x) {
				out[i] = x[base]
			}
			continue
		}
		s := math.Sin(math.Pi*part) / math.Pi
		for j := 1 - half; j <= half; j++ {
			if base+j < 0 || base+j >= len(x) {
				continue
			}
			d := part - float64(j)
			sign := 1.0
			if j%2 != 0 {
				sign = -1
			}
			out[i] += x[base+j] * sign * s / d * math.Sin(math.Pi*d/half) / (math.Pi * d / half)
		}
	}
	return out
}

// Samples returns x as samples of a recording, its peak at half of full scale.
func Samples(x []float64) []float32 {
	most := 1e-30
	for _, v := range x {
		most = max(most, math.Abs(v))
	}
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = float32(v / most / 2)
	}
	return out
}

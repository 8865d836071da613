package tracktest

import (
	"math"
	"math/rand/v2"
)

// Rate is the rate of all sound here, in samples a second.
const Rate = 48000

// Noise returns white noise of unit power.
func Noise(r *rand.Rand, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = r.NormFloat64()
	}
	return x
}

// Tone returns a sine.
func Tone(hz float64, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Sqrt2 * math.Sin(2*math.Pi*hz*float64(i)/Rate)
	}
	return x
}

// Hum returns 50 Hz with falling harmonics, as a bad earth gives.
func Hum(r *rand.Rand, n int) []float64 {
	x := make([]float64, n)
	for harmonic := 1; harmonic <= 40; harmonic++ {
		size, phase := 1/float64(harmonic), 2*math.Pi*r.Float64()
		for i := range x {
			x[i] += size * math.Sin(2*math.Pi*50*float64(harmonic)*float64(i)/Rate+phase)
		}
	}
	return x
}

// Claps returns bursts of noise that die away in 8 ms, one or two a second.
func Claps(r *rand.Rand, n int) []float64 {
	x := make([]float64, n)
	for at := int(0.2 * Rate); at < n; at += int((0.5 + 0.5*r.Float64()) * Rate) {
		for i := at; i < min(n, at+Rate/20); i++ {
			x[i] += r.NormFloat64() * math.Exp(-float64(i-at)/(0.008*Rate))
		}
	}
	return x
}

// Music returns chords of plucked, decaying harmonics with a drum on the beat, at
// a tempo of its own and as unevenly as people play.
func Music(r *rand.Rand, n int) []float64 {
	x := make([]float64, n)
	beat := (0.35 + 0.15*r.Float64()) * Rate
	for count := 0; float64(count)*beat < float64(n); count++ {
		start := min(n, int(float64(count)*beat+0.01*Rate*r.Float64()))
		for range 3 {
			note := 110 * math.Pow(2, float64(r.IntN(30))/12) * (1 + 0.002*r.NormFloat64())
			pluck(r, x[start:], note, 0.3+0.7*r.Float64())
		}
		for i := start; i < min(n, start+Rate/10); i++ {
			x[i] += 0.6 * r.NormFloat64() * math.Exp(-float64(i-start)/(0.015*Rate))
		}
	}
	return x
}

func pluck(r *rand.Rand, x []float64, hz, size float64) {
	length := min(len(x), Rate)
	for harmonic := 1.0; harmonic < 16 && harmonic*hz < 9000; harmonic++ {
		fall, phase := 0.5/harmonic, 2*math.Pi*r.Float64()
		for i := range length {
			t := float64(i) / Rate
			x[i] += size / harmonic * math.Exp(-t/fall) * math.Sin(2*math.Pi*harmonic*hz*t+phase)
		}
	}
}

// Speech returns syllables: pulses of a changing pitch through three changing
// resonances, hisses between, pauses.
func Speech(r *rand.Rand, n int) []float64 {
	x := make([]float64, n)
	phase := 0.0
	for start := 0; start < n; {
		length := int((0.12 + 0.15*r.Float64()) * Rate)
		pitch, slope := 90+120*r.Float64(), 0.4*(r.Float64()-0.5)
		syllable := make([]float64, min(length, n-start))
		hiss := r.Float64() < 0.25
		for i := range syllable {
			part := float64(i) / float64(length)
			if hiss {
				syllable[i] = 0.15 * r.NormFloat64()
			} else if phase += pitch * (1 + slope*part) / Rate; phase >= 1 {
				phase--
				syllable[i] = 1 // a closing of the glottis
			}
			syllable[i] += 0.003 * r.NormFloat64()
		}
		if !hiss {
			for _, formant := range []float64{300 + 500*r.Float64(), 900 + 1300*r.Float64(), 2300 + 900*r.Float64()} {
				syllable = resonate(syllable, formant, 60+formant/15)
			}
		}
		for i, v := range syllable {
			x[start+i] = v * math.Sin(math.Pi*float64(i)/float64(length))
		}
		start += length
		if r.Float64() < 0.15 {
			start += int(0.4 * r.Float64() * Rate)
		}
	}
	return x
}

// resonate adds a resonance to what passes.
func resonate(x []float64, hz, width float64) []float64 {
	radius := math.Exp(-math.Pi * width / Rate)
	a1, a2 := 2*radius*math.Cos(2*math.Pi*hz/Rate), -radius*radius
	out := make([]float64, len(x))
	y1, y2 := 0.0, 0.0
	for i, v := range x {
		y := v*(1-radius) + a1*y1 + a2*y2
		out[i] = 0.1*v + y
		y1, y2 = y, y1
	}
	return out
}

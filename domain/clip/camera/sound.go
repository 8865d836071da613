package camera

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"

	"delaybook/domain/recording"
)

const amplitude = 0.25 // of the tone: -12 dBFS

func (t *take) sounds() []recording.Sound {
	ears := t.Channels
	if ears == nil {
		ears = []Ear{{Gain: 1}}
	}
	room := t.room()
	var out []recording.Sound
	for i, ear := range ears {
		x := t.hear(ear, room, i)
		if n := len(out); n > 0 && out[n-1].Stream == ear.Stream {
			out[n-1].Channels = append(out[n-1].Channels, x)
			continue
		}
		out = append(out, recording.Sound{
			Stream: ear.Stream, Codec: "simulated", Rate: t.SampleRate, Channels: [][]float32{x},
		})
	}
	return out
}

// hear is one channel.
func (t *take) hear(ear Ear, room []float64, index int) []float32 {
	x := make([]float32, int(t.LengthS*float64(t.SampleRate)))
	if t.SNR < 100 {
		sd := amplitude / math.Sqrt2 * math.Pow(10, -t.SNR/20)
		rng := rand.New(rand.NewPCG(t.Seed, uint64(1000+index)))
		from := int(rng.Uint32N(1 << 16))
		stride := 1 + 2*int(rng.Uint32N(1<<10))
		for i := range x {
			// An odd stride walks through all of the table.
			x[i] = float32(sd) * t.noise[(from+i*stride)&(1<<17-1)]
		}
	}
	if ear.Gain == 0 {
		return x
	}
	for _, at := range t.beeps {
		t.add(x, at+ear.LateMS/1e3, ear.Gain, room)
	}
	return x
}

// room is the answer of the room without the direct sound: noise that decays by
// 60 dB in RT60, from 2 ms on, of the energy that DRR says.
func (t *take) room() []float64 {
	if t.RT60 == 0 {
		return nil
	}
	fs := float64(t.SampleRate)
	out := make([]float64, int(0.8*t.RT60*fs))
	energy := 0.0
	for i := int(0.002 * fs); i < len(out); i++ {
		out[i] = t.rng.NormFloat64() * math.Exp(-6.9078*float64(i)/fs/t.RT60)
		energy += out[i] * out[i]
	}
	scale := math.Sqrt(math.Pow(10, -t.DRR/10) / energy)
	for i := range out {
		out[i] *= scale
	}
	return out
}

// add puts a beep and the room's answer into a channel.
func (t *take) add(x []float32, at, gain float64, room []float64) {
	fs := float64(t.SampleRate)
	first := int(math.Ceil(at * fs))
	dry := make([]float64, int(t.ToneS*fs)+1)
	for i := range dry {
		since := float64(first+i)/fs - at
		dry[i] = gain * amplitude * t.envelope(since) * math.Sin(2*math.Pi*t.ToneHz*since)
	}
	wet := convolve(dry, room)
	for i, v := range wet {
		if j := first + i; j >= 0 && j < len(x) {
			x[j] += float32(v)
		}
	}
	if t.PreEcho > 0 {
		for i := range int(0.02 * fs) {
			if j := first - i; j >= 0 && j < len(x) {
				x[j] += float32(gain * amplitude * t.PreEcho * math.Sin(2*math.Pi*t.ToneHz*(float64(j)/fs-at)+1))
			}
		}
	}
}

// envelope of the card's tone: 1 ms up, 4 ms down, and what a gate lets through.
func (t *take) envelope(since float64) float64 {
	if since < 0 || since > t.ToneS {
		return 0
	}
	e := min(since/1e-3, 1, (t.ToneS-since)/4e-3)
	if t.EatenMS > 0 {
		e *= min(since*1e3/t.EatenMS, 1)
	}
	return e
}

// convolve returns the dry sound with the room's answer added.
func convolve(dry, room []float64) []float64 {
	if len(room) == 0 {
		return dry
	}
	n := 1
	for n < len(dry)+len(room) {
		n *= 2
	}
	fft := fourier.NewFFT(n)
	a := fft.Coefficients(nil, append(append([]float64{}, dry...), make([]float64, n-len(dry))...))
	b := fft.Coefficients(nil, append(append([]float64{}, room...), make([]float64, n-len(room))...))
	for i := range a {
		a[i] *= b[i]
	}
	out := fft.Sequence(nil, a)
	for i := range out {
		out[i] /= float64(n)
	}
	for i, v := range dry {
		out[i] += v
	}
	return out[:len(dry)+len(room)]
}

package tracks

import (
	"math"

	"delaybook/domain/recording"
)

// A pair is two tracks with what they have in common.
type pair struct {
	tracks    [2]Track
	fromS     float64 // where the common stretch begins, on the file's axis
	durationS float64 // how long it is
	cutShort  bool
	highHz    float64 // the upper end of the band that both can hold
	kernel    *kernel
	first     []float64 // the first track at workRate from fromS on
	second    []float64 // the second, as it lies in the recording
}

// short tells whether the common stretch is too short to show a drift.
func (p *pair) short() bool { return p.durationS < 8 }

func (t *Track) samples() []float32 { return t.Sound.Channels[t.Channel] }

// prepare finds the common stretch of two tracks and brings both to workRate.
// The pair is nil if there is none.
func prepare(first, second Track) (*pair, *recording.Refusal) {
	p := &pair{tracks: [2]Track{first, second}, highHz: 8000}
	from, to := math.Inf(-1), math.Inf(1)
	for i, name := range names {
		t := &p.tracks[i]
		if refusal := usable(t, name); refusal != nil {
			return nil, refusal
		}
		from, to = max(from, t.Sound.StartS), min(to, t.Sound.EndS())
		p.highHz = min(p.highHz, 0.4*float64(t.Sound.Rate))
	}
	if to-from < shortestS {
		return nil, tooShort(max(0, to-from))
	}
	p.cutShort = to-from > longestS
	p.fromS, p.durationS = from, min(to-from, longestS)
	p.kernel = newKernel()
	p.first = p.render(0, 0, 0)
	p.second = p.render(1, 0, 0)
	for i, samples := range [][]float64{p.first, p.second} {
		if rms(samples) < silence {
			return p, silent(names[i])
		}
	}
	for i, samples := range [][]float64{p.first, p.second} {
		if richness(samples, p.highHz) < leastRich {
			return p, tonal(names[i])
		}
	}
	return p, nil
}

// silence is -90 dB of full scale: the noise of 16 bits lies below, that of any microphone above.
const silence = 3.2e-5

func usable(t *Track, name string) *recording.Refusal {
	s := &t.Sound
	if t.Channel < 0 || t.Channel >= len(s.Channels) {
		return noSuchChannel(name, t.Channel, len(s.Channels))
	}
	if s.Rate < lowestRate || s.Rate > highestRate || math.IsNaN(s.StartS) || math.Abs(s.StartS) > 1e7 {
		return badSound(name)
	}
	// EndS goes by the first channel; a shorter one must not be read past its end.
	s.Channels, t.Channel = [][]float32{s.Channels[t.Channel]}, 0
	for _, v := range s.Channels[0] {
		if f := float64(v); math.IsNaN(f) || math.Abs(f) > 1e6 {
			return badSound(name)
		}
	}
	return nil
}

// render returns track i over the common stretch, taken delayS early and each
// second of it shortened by drift, both as found in the middle of the stretch.
func (p *pair) render(i int, delayS, drift float64) []float64 {
	t := &p.tracks[i]
	rate := float64(t.Sound.Rate)
	startS := p.fromS - (delayS - drift*p.durationS/2) - t.Sound.StartS
	return p.kernel.render(t.samples(), rate, startS*rate, (1-drift)*rate/workRate, int(p.durationS*workRate))
}

func rms(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

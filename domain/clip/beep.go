package clip

import (
	"math"
	"slices"
)

// preEcho is the share of the loud power below which nothing counts as sound.
// Without it the echo that a coder spreads before an attack in silence moved an
// onset by 20 ms.
const preEcho = 2e-3

// A beep is one burst of the tone.
type beep struct {
	atS     float64 // its onset
	uS      float64 // standard uncertainty of it
	lengthS float64
	riseS   float64 // from a tenth to three of the level
}

// A hearing is what one channel lets hear.
type hearing struct {
	*channel
	hz    float64
	beeps []beep
	snrDB float64   // of the bursts over what is between them, in 20 Hz
	slow  []float64 // envelope in steps of stepS
}

// listen finds the beeps of a channel: at the given frequency, or if that is 0
// at the card's, else at the burst-like frequency that gives most.
func (c *channel) listen(hz float64) hearing {
	if hz > 0 {
		return c.listenAt(hz)
	}
	best := c.listenAt(cardHz)
	if best.clear() {
		return best
	}
	for _, f := range c.burstBins(4) {
		if h := c.listenAt(f); h.score() > 1.5*best.score() {
			best = h
		}
	}
	return best
}

func (h hearing) clear() bool { return len(h.beeps) >= 4 && h.snrDB > 20 }

// score prefers many clear bursts.
func (h hearing) score() float64 {
	if len(h.beeps) < 2 {
		return 0
	}
	return math.Sqrt(float64(len(h.beeps))) * max(min(h.snrDB, 60), 0)
}

// listenAt finds the bursts of one frequency.
func (c *channel) listenAt(hz float64) hearing {
	h := hearing{channel: c, hz: hz}
	if hz > 0.45*c.rate || len(c.x) < int(c.rate) {
		return h
	}
	z := c.baseband(hz)
	starts, _, _ := bursts(z)
	if len(starts) >= 2 {
		if exact := refine(z, starts, hz, c.stepS()); math.Abs(exact-hz) > 0.3 && math.Abs(exact-hz) < 60 {
			h.hz = exact
			z = c.baseband(exact)
		}
	}
	starts, level, _ := bursts(z)
	h.slow = make([]float64, len(z))
	for k, v := range z {
		h.slow[k] = math.Hypot(real(v), imag(v))
	}
	noise := quiet(h.slow, starts)
	h.snrDB = 10 * math.Log10((level+1e-20)/(noise/burstMS+1e-20))
	h.beeps = c.onsets(h.hz, starts, h.slow, noise)
	return h
}

// quiet is the power of a step shortly before bursts: noise, and what the room
// still holds of the burst before.
func quiet(slow []float64, starts []int) float64 {
	sum, n := 0.0, 0
	for _, k := range starts {
		for j := max(0, k-40); j < k-12; j++ {
			sum += slow[j] * slow[j]
			n++
		}
	}
	return sum / float64(max(n, 1))
}

// bursts returns the steps where the tone begins, the power of a typical burst,
// and the power of what is between bursts, both of the mean over a burst.
//
// The mean of the base band over burstMS is a matched filter: it takes 17 dB off
// noise. Its rise over the burst before peaks at an onset.
func bursts(z []complex128) (starts []int, level, noise float64) {
	n := burstMS
	if len(z) < 6*n {
		return nil, 0, 0
	}
	sum := make([]complex128, len(z)+1)
	for k, v := range z {
		sum[k+1] = sum[k] + v
	}
	power := make([]float64, len(z)-n)
	for k := range power {
		m := (sum[k+n] - sum[k]) / complex(float64(n), 0)
		power[k] = real(m)*real(m) + imag(m)*imag(m)
	}
	rise := make([]float64, len(power))
	for k := range rise {
		rise[k] = power[k]
		if k >= n+4 {
			rise[k] -= power[k-n-4]
		}
	}
	peaks := nearPeaks(rise, int(apartS/gridS), 0)
	if len(peaks) == 0 {
		return nil, 0, 0
	}
	heights := make([]float64, len(peaks))
	for i, k := range peaks {
		heights[i] = rise[k]
	}
	slices.Sort(heights)
	// Of a 30 s clip with as few as five beeps the fifth is one.
	level = median(heights[max(0, len(heights)-5):])
	noise = median(power) / math.Ln2 // power of noise is exponential: its median is ln 2 of its mean
	floor := max(0.1*level, 9*noise, preEcho*level, 1e-14)
	for _, k := range peaks {
		past := noise + preEcho*level
		if k >= n+4 {
			past += power[k-n-4]
		}
		if rise[k] > floor && power[k] > 2.5*past { // 4 dB
			starts = append(starts, k)
		}
	}
	return starts, level, noise
}

package clip

import (
	"math"
	"math/cmplx"
	"slices"
)

// Of the fine stage: the base band through a Hann window of +-2.5 ms, which
// passes 400 Hz, every fineS.
const (
	halfFIRS = 2.5e-3
	attackS  = 1e-3 // of the card's tone, linear
	directS  = 3.5e-3
	lengthS  = 60e-3
	decayS   = 4e-3
	fineS    = 1.0 / 6000
)

// early is how long before the loudest rise the onset may lie: where a room works
// against the direct sound, the burst is loudest once that has ended.
const early = 70e-3

// onsets measures the bursts that begin near steps. noise is the power of a step
// before bursts.
//
// The edge that the card is known to have, a linear attack of 1 ms, is fitted by
// least squares to what follows within 3.5 ms, before a room answers. Where
// noise is strong the whole burst is fitted instead. Bursts that begin
// elsewhere than most in relation to their loudest rise are fitted again there:
// something else sounded before them.
func (c *channel) onsets(hz float64, starts []int, slow []float64, noise float64) []beep {
	var out []beep
	var bands []fineBand
	var coarse, ahead []float64
	for _, k := range starts {
		to := min(len(slow), k+45)
		plateau := median(slow[min(k+8, to-1):to])
		at := c.startS + float64(k)*c.stepS()
		w := c.fine(hz, at-early-20e-3, at+95e-3)
		if plateau == 0 || len(w.z) < 200 {
			continue
		}
		w.plateau = plateau
		// The noise bandwidth of the Hann window is 1.5 over its 5 ms, that of a
		// step one over 1 ms.
		w.noise = noise * 0.3
		b := w.beep(w.crossing(at))
		b.lengthS = length(slow, max(0, c.step(b.atS)-2), plateau) * c.stepS()
		out = append(out, b)
		bands = append(bands, w)
		coarse = append(coarse, at)
		ahead = append(ahead, at-b.atS)
	}
	usual := median(ahead)
	for i := range out {
		if math.Abs(ahead[i]-usual) > 8e-3 {
			length := out[i].lengthS
			out[i] = bands[i].beep(coarse[i] - usual)
			out[i].lengthS = length
		}
	}
	return out
}

// step is the step of the slow base band at an instant.
func (c *channel) step(t float64) int { return int((t - c.startS) / c.stepS()) }

// beep fits the burst from a guess of its onset on.
func (b fineBand) beep(guess float64) beep {
	var out beep
	noisy := b.noisy()
	for range 2 {
		out.atS, out.uS = b.fit(guess, noisy)
		guess = out.atS
	}
	out.riseS = b.rise(out.atS)
	return out
}

// noisy is under 11 dB.
func (b fineBand) noisy() bool { return b.noise*12 > b.plateau*b.plateau }

// length counts steps from the first that is above 0.3, near step from, until the
// tone is below that for 12 of them.
func length(slow []float64, from int, plateau float64) float64 {
	start := from
	for start < from+14 && start < len(slow) && slow[start] < 0.3*plateau {
		start++
	}
	end := start
	for j := start; j < min(start+400, len(slow)); j++ {
		if slow[j] >= 0.3*plateau {
			end = j
		} else if j-end > 12 {
			break
		}
	}
	return float64(end - start + 1)
}

// A fineBand is the base band round one onset.
type fineBand struct {
	startS, stepS float64
	z             []complex128
	plateau       float64 // amplitude of the burst
	noise         float64 // power of one value
}

func (c *channel) fine(hz, from, to float64) fineBand {
	step := max(1, int(math.Round(c.rate*fineS)))
	half := int(math.Round(c.rate * halfFIRS))
	i0, i1 := max(c.at(from), half), min(c.at(to), len(c.x)-half-1)
	b := fineBand{startS: c.startS + float64(i0)/c.rate, stepS: float64(step) / c.rate}
	if i1 <= i0 {
		return b
	}
	mixed := make([]complex128, i1-i0+2*half+1)
	turn := 2 * math.Pi * hz / c.rate
	for j := range mixed {
		i := i0 - half + j
		mixed[j] = cmplx.Rect(float64(c.x[i]), -math.Mod(turn*float64(i), 2*math.Pi))
	}
	window := hann(half)
	for i := 0; i <= i1-i0; i += step {
		var sum complex128
		for j, h := range window {
			sum += mixed[i+j] * complex(h, 0)
		}
		b.z = append(b.z, sum)
	}
	return b
}

// hann sums to 1.
func hann(half int) []float64 {
	w := make([]float64, 2*half+1)
	for i := range w {
		w[i] = (1 + math.Cos(math.Pi*float64(i-half)/float64(half+1))) / float64(2*half+2)
	}
	return w
}

func (b fineBand) time(i int) float64 { return b.startS + float64(i)*b.stepS }

func (b fineBand) index(t float64) int {
	return min(max(int(math.Round((t-b.startS)/b.stepS)), 0), len(b.z)-1)
}

// crossing finds where the envelope first passes a share of the plateau and
// stays there for 60 % of the next 8 ms, from early before at: less than half
// where noise allows, since a room may add to the plateau long after the direct
// sound.
func (b fineBand) crossing(at float64) float64 {
	level := min(max(0.25*b.plateau, 3.5*math.Sqrt(b.noise)), 0.5*b.plateau)
	if b.noisy() {
		return at
	}
	next := int(math.Round(8e-3 / b.stepS))
	for i := b.index(at - early); i < b.index(at+25e-3); i++ {
		if cmplx.Abs(b.z[i]) < level {
			continue
		}
		up := 0
		for _, z := range b.z[i:min(i+next, len(b.z))] {
			if cmplx.Abs(z) >= level {
				up++
			}
		}
		if float64(up) >= 0.6*float64(next) {
			return b.time(i)
		}
	}
	return at
}

// shape is the envelope of the card's tone at t after its onset, through the
// Hann window: the tone is the integral of its slope, 1/attackS for attackS and
// -1/decayS for decayS, so it is two differences of a twice integrated window.
func shape(t float64) float64 {
	return (twice(t)-twice(t-attackS))/attackS - (twice(t-lengthS+decayS)-twice(t-lengthS))/decayS
}

// twice is the Hann window of +-halfFIRS, integrated twice.
func twice(t float64) float64 {
	x := t / halfFIRS
	switch {
	case x <= -1:
		return 0
	case x >= 1:
		return t
	}
	// h = (1+cos(pi x))/2 over halfFIRS; once: (x+1)/2 + sin(pi x)/2pi; again:
	return halfFIRS * ((x+1)*(x+1)/4 - (1+math.Cos(math.Pi*x))/(2*math.Pi*math.Pi))
}

// fit returns the instant of the onset by least squares round a guess, and its
// standard uncertainty. The amplitude is free, so what is sought is the largest
// share of power that the shape explains.
func (b fineBand) fit(guess float64, noisy bool) (at, u float64) {
	from, to := b.index(guess-9e-3), b.index(guess+directS)
	reach := 3e-3
	if noisy {
		from, to = b.index(guess-25e-3), b.index(guess+75e-3)
		reach = 12e-3
	}
	const step = 0.1e-3
	var cost []float64
	for t := guess - reach; t <= guess+reach; t += step {
		cost = append(cost, b.unexplained(t, from, to))
	}
	i := slices.Index(cost, slices.Min(cost))
	at = guess - reach + float64(i)*step
	if i == 0 || i == len(cost)-1 {
		return at, step
	}
	bend := cost[i-1] - 2*cost[i] + cost[i+1]
	if bend <= 0 {
		return at, step
	}
	at += step * 0.5 * (cost[i-1] - cost[i+1]) / bend
	// The cost is chi-squared times the noise power of independent samples, of
	// which there are 5 ms / 1.5 to a second: samples here are closer, so each
	// counts for less.
	residual := max(cost[i]/float64(to-from+1), b.noise)
	dense := halfFIRS * 2 / 1.5 / b.stepS
	u = step * math.Sqrt(residual*dense/bend)
	return at, max(u, 0.02e-3)
}

// unexplained is the power that the shape at t leaves over.
func (b fineBand) unexplained(t float64, from, to int) float64 {
	var match complex128
	var power, norm float64
	for i := from; i <= to; i++ {
		s := shape(b.time(i) - t)
		z := b.z[i]
		power += real(z)*real(z) + imag(z)*imag(z)
		match += z * complex(s, 0)
		norm += s * s
	}
	if norm == 0 {
		return power
	}
	return power - (real(match)*real(match)+imag(match)*imag(match))/norm
}

// rise is how long the envelope takes from a tenth of the plateau to three: the
// direct sound reaches that at once even where most of the plateau is the room's.
func (b fineBand) rise(at float64) float64 {
	plateau := b.plateau
	i := b.index(at - 20e-3)
	last := b.index(at + 45e-3)
	up := i
	for up < last && cmplx.Abs(b.z[up]) < 0.3*plateau {
		up++
	}
	tenth := up
	for tenth > i && cmplx.Abs(b.z[tenth]) > plateau/10 {
		tenth--
	}
	return b.time(up) - b.time(tenth)
}

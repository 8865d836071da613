package tracks

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

var boundTrials = flag.Int("bound-trials", 100, "trials of each row of the comparison with the bound")

// The least standard deviation of a delay estimate (Carter, Proc. IEEE 75 (1987) 236; in closed form for a flat band
// f1 to f2 and equal signal-to-noise ratios):
//
//	sigma^2 = 3/(8 pi^2 T) (1+2 SNR)/SNR^2 / (f2^3-f1^3)
//
// The values were computed from that formula by quadrature and in closed form, which agree.
var bounds = []struct {
	seconds, low, high, snr float64
	us                      float64
}{
	{1, 300, 3400, 10, 0.450719},
	{1, 300, 3400, 1, 1.703559},
	{0.5, 100, 8000, 31.6228, 0.0976490},
	{0.1, 100, 8000, 10, 0.394767},
	{0.25, 300, 3400, 10, 0.901439},
}

func TestErrorAgainstTheCramerRaoBound(t *testing.T) {
	t.Parallel()
	for i, b := range bounds {
		t.Run(fmt.Sprintf("%gs %g-%g SNR %g", b.seconds, b.low, b.high, b.snr), func(t *testing.T) {
			t.Parallel()
			closed := 1e6 * math.Sqrt(3/(8*math.Pi*math.Pi*b.seconds)*(1+2*b.snr)/(b.snr*b.snr)/(math.Pow(b.high, 3)-math.Pow(b.low, 3)))
			if math.Abs(closed-b.us) > 1e-5*b.us {
				t.Fatalf("the closed form gives %g, the table %g", closed, b.us)
			}
			r := rand.New(rand.NewPCG(uint64(i), 8))
			plain, phat, weighted := deviations(r, b.seconds, b.low, b.high, b.snr)
			t.Logf("over the bound: plain %.3f, PHAT %.3f, weighted by coherence %.3f", plain/b.us, phat/b.us, weighted/b.us)
			// The tolerances are for 1000 trials or more; with n trials a standard deviation is known to 1/sqrt(2n).
			slack := 3/math.Sqrt(2*float64(*boundTrials)) - 3/math.Sqrt(2000)
			// Below 0.9 the test would leak the answer.
			if ratio := plain / b.us; ratio < 0.9-slack || ratio > 1.2+slack {
				t.Errorf("plain correlation has %.3f times the least error", ratio)
			}
			if ratio := phat / b.us; ratio < 0.9-slack || ratio > 2.3+slack {
				t.Errorf("phase weighting has %.3f times the least error", ratio)
			}
			if b.seconds < 0.5 {
				return // fewer lines of the spectrum than an estimate of coherence takes
			}
			if ratio := weighted / b.us; ratio < 0.9-slack || ratio > 1.3+slack {
				t.Errorf("weighting by coherence has %.3f times the least error", ratio)
			}
		})
	}
}

// deviations returns the standard deviations in microseconds of three weightings of one block of white noise.
func deviations(r *rand.Rand, seconds, low, high, snr float64) (plain, phat, weighted float64) {
	n := int(seconds * workRate)
	c := newCorrelator(n, 0, 8000)
	for i := range c.taper {
		c.taper[i] = 1
	}
	for k := range c.band {
		hz := float64(k) * workRate / float64(c.n)
		c.band[k] = 0
		if hz >= low && hz <= high {
			c.band[k] = 1
		}
	}
	squares := [3]float64{}
	for range *boundTrials {
		delay := 6 * (r.Float64() - 0.5)
		first, second := noisy(r, c, delay, snr)
		for way := range squares {
			g := c.weigh(way, first, second)
			away := (c.near(g, delay, 3, false) - delay) / workRate * 1e6
			squares[way] += away * away / float64(*boundTrials)
		}
	}
	return math.Sqrt(squares[0]), math.Sqrt(squares[1]), math.Sqrt(squares[2])
}

func (c *correlator) weigh(way int, first, second []float64) []complex128 {
	weights := c.band
	if way == 2 {
		weights = c.coherence(first, second, []window{{used: true}})
	}
	g := c.cross(first, second)
	if way == 1 {
		c.whiten(g)
	}
	for k := range g {
		g[k] *= complex(weights[k], 0)
	}
	return g
}

// noisy returns two blocks of one white noise in the band, the first late by delay samples, each with noise of its own.
func noisy(r *rand.Rand, c *correlator, delay, snr float64) (first, second []float64) {
	a, b := make([]complex128, len(c.band)), make([]complex128, len(c.band))
	gauss := func(size float64) complex128 { return complex(size*r.NormFloat64(), size*r.NormFloat64()) }
	for k, in := range c.band {
		if in == 0 {
			continue
		}
		s, turn := gauss(1), -2*math.Pi*float64(k)*delay/float64(c.n)
		noise := 1 / math.Sqrt(snr)
		a[k] = s*complex(math.Cos(turn), math.Sin(turn)) + gauss(noise)
		b[k] = s + gauss(noise)
	}
	return c.fft.Sequence(nil, a), c.fft.Sequence(nil, b)
}

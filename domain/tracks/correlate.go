package tracks

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	lowHz     = 150.0 // below: rumble and mains
	taperPart = 0.1   // of each end; without it a tone locks on the ends of the piece
)

// A correlator compares pieces of one length.
type correlator struct {
	fft    *fourier.FFT
	n      int       // length of the transform
	taper  []float64 // of a piece
	band   []float64 // weight of each frequency
	a, b   []complex128
	r      []float64
	padded []float64
}

// newCorrelator makes a correlator of pieces of length samples for delays up to
// reach samples, in the band up to highHz.
func newCorrelator(length, reach int, highHz float64) *correlator {
	n := smooth(length + reach)
	c := &correlator{
		fft: fourier.NewFFT(n), n: n, taper: taper(length, taperPart), band: make([]float64, n/2+1),
		a: make([]complex128, n/2+1), b: make([]complex128, n/2+1), r: make([]float64, n), padded: make([]float64, n),
	}
	for k := range c.band {
		hz := float64(k) * workRate / float64(n)
		c.band[k] = rise((hz-lowHz*2/3)/(lowHz*2/3)) * rise((highHz*1.125-hz)/(highHz*0.125))
	}
	return c
}

// rise is the raised cosine from 0 to 1.
func rise(x float64) float64 { return (1 - math.Cos(math.Pi*min(1, max(0, x)))) / 2 }

func taper(length int, part float64) []float64 {
	w := make([]float64, length)
	for i := range w {
		edge := (float64(min(i, length-1-i)) + 0.5) / (part * float64(length))
		w[i] = rise(edge)
	}
	return w
}

// smooth returns the least length of factors 2, 3 and 5 from n on: others transform slowly.
func smooth(n int) int {
	for ; ; n++ {
		rest := n
		for _, factor := range []int{2, 3, 5} {
			for rest%factor == 0 {
				rest /= factor
			}
		}
		if rest == 1 && n%2 == 0 {
			return n
		}
	}
}

// spectrum writes the spectrum of a tapered piece without its mean to dst.
func (c *correlator) spectrum(dst []complex128, x []float64) {
	mean := 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	clear(c.padded)
	for i, v := range x {
		c.padded[i] = (v - mean) * c.taper[i]
	}
	c.fft.Coefficients(dst, c.padded)
}

// cross returns the cross-spectrum of two pieces: its inverse transform peaks
// at the samples by which first is late. It is valid until the next call.
func (c *correlator) cross(first, second []float64) []complex128 {
	c.spectrum(c.a, first)
	c.spectrum(c.b, second)
	for k := range c.a {
		c.a[k] *= cmplx.Conj(c.b[k])
	}
	return c.a
}

// The taper leaves a little of a steady tone in the frequencies round it. Its
// phase says where the piece ends and nothing of the delay, so what is leakHz or
// less from a line 40 dB stronger counts for less the weaker it is.
const (
	leakHz = 50.0
	leak   = 1e-4
)

// whiten gives each frequency of a cross-spectrum the weight of the band,
// whatever its power (PHAT), unless it may be the leak of a stronger one.
func (c *correlator) whiten(g []complex128) {
	size := make([]float64, len(g))
	width := max(1, int(leakHz*float64(c.n)/workRate))
	blocks := make([]float64, len(g)/width+1)
	most := 0.0
	for k, v := range g {
		size[k] = cmplx.Abs(v)
		blocks[k/width] = max(blocks[k/width], size[k])
		most = max(most, size[k])
	}
	// Rounding errors 150 dB below the strongest line have a phase too, though not one that says anything.
	floor := 1e-15*most + math.SmallestNonzeroFloat64
	for k, v := range g {
		b := k / width
		near := max(blocks[max(0, b-1)], blocks[b], blocks[min(len(blocks)-1, b+1)])
		g[k] = v * complex(c.band[k]/max(size[k]+leak*near, floor), 0)
	}
}

// A peak is where a correlation is largest.
type peak struct {
	delay    float64 // samples by which the first piece is late
	inverted bool    // the correlation is negative there
	q        float64 // its height over that of the next peak more than 1 ms away
	z        float64 // its height over the noise's
	next     float64 // where the next peak is
}

// find returns the largest peak of a weighted cross-spectrum within reach
// samples, between samples by the maximum of the correlation itself.
func (c *correlator) find(g []complex128, reach int) peak {
	c.fft.Sequence(c.r, g)
	reach = min(reach, c.n/2-1)
	at := func(i int) float64 { return math.Abs(c.r[(i+c.n)%c.n]) }
	best := 0
	for i := -reach; i <= reach; i++ {
		if at(i) > at(best) {
			best = i
		}
	}
	heights := make([]float64, 0, reach/4+1)
	next, gap := 0, workRate/1000
	second := 0.0
	for i := -reach; i <= reach; i++ {
		if i%8 == 0 { // enough for a median
			heights = append(heights, at(i))
		}
		if (i < best-gap || i > best+gap) && at(i) > second {
			second, next = at(i), i
		}
	}
	noise := 1.4826 * median(heights)
	p := peak{inverted: c.r[(best+c.n)%c.n] < 0, next: float64(next)}
	if second > 0 && noise > 0 {
		p.q, p.z = at(best)/second, at(best)/noise
	}
	p.delay = c.refine(g, float64(best))
	return p
}

// near returns the largest value of a weighted cross-spectrum's correlation, of
// the sign asked for, within radius samples of a delay.
func (c *correlator) near(g []complex128, delay, radius float64, inverted bool) float64 {
	c.fft.Sequence(c.r, g)
	best, height := math.Round(delay), math.Inf(-1)
	for i := math.Ceil(delay - radius); i <= delay+radius; i++ {
		v := c.r[(int(i)+c.n)%c.n]
		if inverted {
			v = -v
		}
		if v > height {
			best, height = i, v
		}
	}
	return c.refine(g, best)
}

// refine returns the extremum of the correlation next to a sample, by Newton's
// method on the band-limited correlation that the spectrum g describes.
func (c *correlator) refine(g []complex128, start float64) float64 {
	delay := start
	for range 6 {
		slope, bend := 0.0, 0.0
		step := 2 * math.Pi / float64(c.n)
		turn, phase := cmplx.Rect(1, step*delay), complex(1, 0)
		for k, v := range g {
			if k%512 == 0 {
				phase = cmplx.Rect(1, step*delay*float64(k)) // so that rounding does not build up
			}
			w := float64(k) * step
			value := v * phase
			slope -= w * imag(value)
			bend -= w * w * real(value)
			phase *= turn
		}
		if bend == 0 {
			break
		}
		move := -slope / bend
		if math.Abs(delay+move-start) > 1 || math.IsNaN(move) {
			return start
		}
		delay += move
		if math.Abs(move) < 1e-7 {
			break
		}
	}
	return delay
}

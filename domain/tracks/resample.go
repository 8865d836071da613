package tracks

import "math"

// workRate is the rate in samples a second at which tracks are compared: enough
// for the band up to 8 kHz and its soft edge.
const workRate = 24000

const (
	crossings     = 12  // zero crossings of the kernel on either side
	perCrossing   = 512 // entries of the table between two of them
	kaiserBeta    = 7.9 // 80 dB: Kaiser's formula, in Oppenheim and Schafer, Discrete-Time Signal Processing, ch. 7
	lowestRate    = 4000
	highestRate   = 768000
	kernelSamples = crossings*perCrossing + 2
)

// A kernel is half of a windowed sinc, the low-pass through which a track is
// brought to another rate.
type kernel [kernelSamples]float64

func newKernel() *kernel {
	k := &kernel{1}
	for i := 1; i <= crossings*perCrossing; i++ {
		x := float64(i) / perCrossing
		edge := x / crossings
		window := besselI0(kaiserBeta*math.Sqrt(max(0, 1-edge*edge))) / besselI0(kaiserBeta)
		k[i] = math.Sin(math.Pi*x) / (math.Pi * x) * window
	}
	return k
}

// besselI0 is the modified Bessel function of order 0 by its power series
// (Abramowitz and Stegun 9.6.12).
func besselI0(x float64) float64 {
	sum, term := 1.0, 1.0
	for n := 1.0; term > 1e-17*sum; n++ {
		term *= x * x / (4 * n * n)
		sum += term
	}
	return sum
}

// render returns n samples of src, which has rate samples a second, of which
// the first is taken at position samples of src and each next one step samples
// later. Outside src there is silence.
func (k *kernel) render(src []float32, rate, position, step float64, n int) []float64 {
	// Below workRate nothing has to be held back; above, what would fold down.
	cut := min(1, workRate/rate) // of the rate of src
	half := crossings / cut
	out := make([]float64, n)
	for i := range out {
		at := position + float64(i)*step
		from, to := max(0, int(math.Ceil(at-half))), min(len(src)-1, int(math.Floor(at+half)))
		sum := 0.0
		for j := from; j <= to; j++ {
			x := math.Abs(at-float64(j)) * cut * perCrossing
			whole := int(x)
			part := x - float64(whole)
			sum += float64(src[j]) * (k[whole]*(1-part) + k[whole+1]*part)
		}
		out[i] = sum * cut
	}
	return out
}

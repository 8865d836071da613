package tracks

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"
)

// python is Debian's, whose packages python3-numpy and python3-scipy .ci/setup installs.
const python = "/usr/bin/python3"

// correlate reads two rows of doubles and writes their full correlation.
const correlate = `
import sys, numpy, scipy.signal
x = numpy.frombuffer(sys.stdin.buffer.read()).reshape(2, -1)
sys.stdout.buffer.write(scipy.signal.correlate(x[0], x[1], mode="full", method="fft").tobytes())
`

// TestCorrelationAgainstSciPy compares with scipy.signal.correlate (SciPy, open source): every lag of the correlation
// of two tapered pieces, before any weighting.
func TestCorrelationAgainstSciPy(t *testing.T) {
	t.Parallel()
	const length, reach, late = 9000, 4000, 731
	r := rand.New(rand.NewPCG(3, 3))
	first, second := make([]float64, length), make([]float64, length)
	for i := range length {
		second[i] = r.NormFloat64()
		if i >= late {
			first[i] = second[i-late] + 0.5*r.NormFloat64()
		}
	}
	c := newCorrelator(length, reach, 8000)
	g := c.cross(first, second)
	mine := c.fft.Sequence(nil, g)
	theirs := scipyCorrelate(t, tapered(c, first), tapered(c, second))
	largest := 0
	for lag := -reach; lag <= reach; lag++ {
		mine, theirs := mine[(lag+c.n)%c.n]/float64(c.n), theirs[lag+length-1]
		if math.Abs(mine-theirs) > 1e-9*length {
			t.Fatalf("lag %d: %g, scipy %g", lag, mine, theirs)
		}
	}
	for i, v := range theirs {
		if v > theirs[largest] {
			largest = i
		}
	}
	if got := largest - (length - 1); got != late || math.Abs(c.refine(g, late)-late) > 0.5 {
		t.Errorf("scipy's largest lag is %d, ours %.3f, want %d", got, c.refine(g, late), late)
	}
}

func tapered(c *correlator, x []float64) []float64 {
	mean := 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = (v - mean) * c.taper[i]
	}
	return out
}

func scipyCorrelate(t *testing.T, rows ...[]float64) []float64 {
	t.Helper()
	var in, out, complaints bytes.Buffer
	for _, row := range rows {
		if err := binary.Write(&in, binary.NativeEndian, row); err != nil {
			t.Fatal(err)
		}
	}
	command := exec.CommandContext(t.Context(), python, "-c", correlate)
	command.Stdin, command.Stdout, command.Stderr = &in, &out, &complaints
	if err := command.Run(); err != nil {
		t.Fatalf("%s with scipy is needed (run .ci/setup): %v\n%s", python, err, &complaints)
	}
	result := make([]float64, out.Len()/8)
	if err := binary.Read(&out, binary.NativeEndian, result); err != nil {
		t.Fatal(err)
	}
	return result
}

package estimate

import (
	"math"
	"testing"
	"time"
)

// The variance of a phase that moved is its mean square: a phase that is uniform
// over one frame and walks by s frames comes back into the frame, and differs by
// s' or s'-1 (s' = s mod 1), which is s'(1-s') in the mean square. The sum over a
// normal s is taken here by the trapezoidal rule, whose error vanishes faster
// than any power of the step.
func TestWalkIsTheMeanSquareOfAPhaseThatMoved(t *testing.T) {
	t.Parallel()
	const frameMS = 40.0
	for _, after := range []time.Duration{time.Second, time.Minute, 10 * time.Minute, time.Hour, 3 * time.Hour} {
		x := 10e-6 * after.Seconds() * 1000 / frameMS
		const steps = 400_000
		sum := 0.0
		h := 20 * x / steps
		for i := range steps {
			s := -10*x + (float64(i)+0.5)*h
			f := s - math.Floor(s)
			sum += h * math.Exp(-s*s/(2*x*x)) / (x * math.Sqrt(2*math.Pi)) * f * (1 - f)
		}
		if got, want := walk(frameMS, after), frameMS*frameMS*sum; math.Abs(got-want) > 1e-6*want {
			t.Errorf("after %v: %v, want %v", after, got, want)
		}
	}
	if got := walk(frameMS, 0); got != 0 {
		t.Errorf("at once: %v", got)
	}
}

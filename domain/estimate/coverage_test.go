package estimate_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"delaybook/domain/estimate"
)

// simulated are clips of one free camera against two microphones of one model in
// so many power-ups, both in each: they share its phase. The truth follows the
// model at the priors.
func simulated(tb testing.TB, random *rand.Rand, powerUps int) (b estimate.Book, mean float64, next func() float64) {
	tb.Helper()
	b = hall(tb, estimate.FreeTiming)
	latency := map[string]float64{"mic-1": 90 + random.NormFloat64(), "mic-2": 90 + random.NormFloat64()}
	for p := range powerUps {
		phase := frame * random.Float64()
		for mic, ms := range latency {
			m := clip(fmt.Sprintf("%s-%d", mic, p), "cam-1", mic, fmt.Sprintf("p%d", p), ms+phase+random.NormFloat64()+random.NormFloat64(), 1)
			m.Method, m.CardSource = estimate.Clap, ""
			b.Measurements = append(b.Measurements, m)
		}
	}
	mean = latency["mic-1"] + frame/2
	return b, mean, func() float64 { return latency["mic-1"] + frame*random.Float64() + random.NormFloat64() }
}

// Intervals hold the truth as often as they say. 1000 books have a standard error
// of 0.7 points; four of them, and the error of variances pooled from so few, are allowed.
func TestCoverage(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(41, 42))
	const books = 1000
	for _, powerUps := range []int{1, 2, 4} {
		var mean, next, width, nextWidth float64
		for range books {
			b, truth, draw := simulated(t, random, powerUps)
			s, err := estimate.Fit(b)
			if err != nil {
				t.Fatal(err)
			}
			o := offset(t, s, "cam-1", "mic-1")
			if in(o.Estimate, truth) {
				mean++
			}
			if in(o.Next, draw()) {
				next++
			}
			width += (o.Estimate.Interval[1] - o.Estimate.Interval[0]) / 2
			nextWidth += (o.Next.Interval[1] - o.Next.Interval[0]) / 2
		}
		t.Logf("%d power-ups: mean %.1f %% (+-%.1f ms), next %.1f %% (+-%.1f ms)", powerUps,
			100*mean/books, width/books, 100*next/books, nextWidth/books)
		for what, share := range map[string]float64{"mean": mean / books, "next": next / books} {
			if math.Abs(share-0.95) > 0.03 {
				t.Errorf("%d power-ups: the range of the %s holds %.1f %%", powerUps, what, 100*share)
			}
		}
		// One uniform phase alone: 0.95 of half a frame for the mean of one power-up.
		if powerUps == 1 {
			near(t, "half-width of one power-up", width/books, 0.95*frame/2, 0.03*frame)
		}
	}
}

func in(e *estimate.Estimate, x float64) bool { return e.Interval[0] <= x && x <= e.Interval[1] }

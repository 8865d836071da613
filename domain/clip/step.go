package clip

import "math"

// stepGain is how much better a step must explain the events than a drift does,
// as a logarithm, before it is believed.
const stepGain = 10.0

// step returns the event before which the offset most likely steps, and by how
// much that explains the events better than the drift given, as a logarithm: a
// cut to another camera looks like drift to a line through all events.
func (f *fitter) step(cells []cell, drift float64) (at int, gain float64) {
	n := len(f.events)
	if n < 2*fewest {
		return 0, 0
	}
	steady := max(f.evidence(cells, drift), f.evidence(cells, 0))
	// A second offset may be anywhere on the grid, and the step between any two events.
	price := math.Log(float64(f.grid.n)) + math.Log(float64(n-2*fewest+1))
	all := make([][]float64, n)
	for c := range cells {
		head, tail := sums(cells[c].each, false), sums(cells[c].each, true)
		for i := fewest; i <= n-fewest; i++ {
			all[i] = append(all[i], head[i]+tail[i]+cells[c].prior)
		}
	}
	gain = math.Inf(-1)
	for i := fewest; i <= n-fewest; i++ {
		if g := logSum(all[i]) - price - steady; g > gain {
			at, gain = i, g
		}
	}
	return at, gain
}

// sums returns, by the number i of an event, the logarithm of how well one
// offset explains the events before i; fromEnd: those from i on.
func sums(each [][]float64, fromEnd bool) []float64 {
	n := len(each)
	out, sum := make([]float64, n+1), make([]float64, len(each[0]))
	for k := range n {
		from, to := k, k+1
		if fromEnd {
			from, to = n-1-k, n-1-k
		}
		for j, v := range each[from] {
			sum[j] += v
		}
		out[to] = logSum(sum)
	}
	return out
}

// held tells whether frames that are partly lit come twice in some events. A
// shutter does so once an event, whatever its time: the second is a copy, even
// where coding has spoilt all other likeness.
func held(events []event, stepS float64) bool {
	twice := 0
	for _, e := range events {
		for i := 1; i < len(e.samples); i++ {
			a, b := e.samples[i-1], e.samples[i]
			partly := a.share[plain] > 0.08 && a.share[plain] < 0.92
			if partly && b.atS-a.atS > 0.6*stepS && math.Abs(a.share[plain]-b.share[plain]) < 0.025 {
				twice++
				break
			}
		}
	}
	return 20*twice >= len(events)
}

package clip

import (
	"math"
	"slices"
)

// Of the card: no two events are closer than 701 ms, so two steps within 450 ms
// are one event.
const (
	spanS   = 0.070 // of the mean before and after a step
	apartS  = 0.450 // between events, and the longest flash
	minStep = 4.0   // grey levels: less is compression noise
)

// A flash is the run of frames that are more than half lit.
type flash struct {
	first, last int     // frames
	atS         float64 // to half a frame: where the light passes one half
}

// flashes finds the events of the picture, in order.
func (f *film) flashes() []flash {
	m := max(1, int(math.Round(spanS/f.clock.periodS)))
	if len(f.pts) < 4*m+4 {
		return nil
	}
	weight := f.weigh(m)
	if weight == nil {
		return nil
	}
	signal := make([]float64, len(f.pts))
	for k := range signal {
		for b, w := range weight {
			signal[k] += w * float64(f.mean[k*blocks+b])
		}
	}
	step := steps(signal, m)
	var found []flash
	for _, k := range f.peaks(step, m) {
		if fl, ok := f.run(signal, k, m); ok && (len(found) == 0 || fl.first > found[len(found)-1].last) {
			found = append(found, fl)
		}
	}
	return found
}

// steps returns for each frame the mean of the m frames after the next minus
// the mean of the m before: a partly lit frame belongs to neither.
func steps(signal []float64, m int) []float64 {
	sum := make([]float64, len(signal)+1)
	for k, v := range signal {
		sum[k+1] = sum[k] + v
	}
	out := make([]float64, len(signal))
	for k := m; k+1+m <= len(signal); k++ {
		out[k] = (sum[k+1+m] - sum[k+1] - sum[k] + sum[k-m]) / float64(m)
	}
	return out
}

// weigh returns the weight of each block: how far its largest steps stand out.
// nil: none does. The weights sum to 1.
func (f *film) weigh(m int) []float64 {
	weight := make([]float64, blocks)
	signal := make([]float64, len(f.pts))
	total := 0.0
	for b := range blocks {
		for k := range signal {
			signal[k] = float64(f.mean[k*blocks+b])
		}
		step := steps(signal, m)
		top := quantile(step, 0.99)
		if w := top - 3*robustSD(step); w > minStep {
			weight[b] = w
			total += w
		}
	}
	if total == 0 {
		return nil
	}
	for b := range weight {
		weight[b] /= total
	}
	return weight
}

// peaks returns the frames of steps up that are followed by a step down, a cut
// to a brighter scene is not, in order.
func (f *film) peaks(step []float64, m int) []int {
	apart := max(1, int(math.Round(apartS/f.clock.periodS)))
	top := nearPeaks(step, apart, 0)
	isFlash := func(k int) bool {
		low := slices.Min(step[k:min(k+apart+m, len(step))])
		return low < -0.4*step[k]
	}
	top = slices.DeleteFunc(top, func(k int) bool { return !isFlash(k) })
	if len(top) == 0 {
		return nil
	}
	heights := make([]float64, len(top))
	for i, k := range top {
		heights[i] = step[k]
	}
	slices.Sort(heights)
	reference := median(heights[max(0, len(heights)-5):])
	floor := max(0.35*reference, 5*robustSD(step), minStep/2)
	return slices.DeleteFunc(top, func(k int) bool { return step[k] < floor })
}

// nearPeaks returns the places above the floor that are highest within apart on
// both sides, in order.
func nearPeaks(x []float64, apart int, floor float64) []int {
	var out []int
	for k, v := range x {
		if v <= floor || k > 0 && x[k-1] >= v || k+1 < len(x) && x[k+1] > v {
			continue
		}
		from, to := max(0, k-apart), min(len(x), k+apart+1)
		if slices.Max(x[from:to]) > v || slices.Index(x[from:to], v) < k-from {
			continue
		}
		out = append(out, k)
	}
	return out
}

// run finds the frames that are lit round a step at k, and where the light
// passes one half.
func (f *film) run(signal []float64, k, m int) (flash, bool) {
	apart := int(math.Round(apartS / f.clock.periodS))
	from, to := max(0, k-m-1), min(len(signal)-1, k+apart)
	dark := median(signal[from:max(from+1, k-1)])
	// Lit is what the first frames reach, not a brighter thing later.
	lit := slices.Max(signal[k:min(k+m+2, len(signal))])
	half := (dark + lit) / 2
	first := max(1, k-m)
	for first <= to && signal[first] < half {
		first++
	}
	if first > to {
		return flash{}, false
	}
	last := first
	for last < to && signal[last+1] >= half {
		last++
	}
	if last == to || f.pts[last]-f.pts[first] > apartS {
		return flash{}, false // cut off by the end, or lit for too long
	}
	below, above := signal[first-1], signal[first]
	share := 0.5
	if above > below {
		share = min(max((half-below)/(above-below), 0), 1)
	}
	at := f.centre(first-1) + share*(f.centre(first)-f.centre(first-1))
	return flash{first: first, last: last, atS: at}, true
}

// Package onset finds sudden sounds in a recording, such as a hand clap or a
// slate, so that a person who steps through the picture sees where each falls.
//
// # Method
//
// A sudden sound is where the power of a short stretch is far above that of a
// long one before it: the ratio of short-term to long-term average (R. V. Allen,
// Automatic earthquake recognition and timing from single traces, Bull. Seism.
// Soc. Am. 68 (1978) 1521-1532). The signal is differenced first, which takes
// rumble and hum away from a clap. The instant is where the differenced signal
// first reaches half of its peak, the 50 % level that IEEE Std 181 calls the
// mid-reference instant of a pulse.
//
// It does not tell a clap from a dropped screwdriver: that is for the eye.
package onset

import (
	"cmp"
	"math"
	"slices"

	"delaybook/domain/recording"
)

const (
	stepS    = 1e-3  // of the power
	shortN   = 3     // steps of the short average
	longN    = 200   // steps of the long one
	leastN   = 50    // steps that the long one needs at the beginning of a recording
	riseDB   = 12    // of the short above the long: claps in a talking room have 20 and more
	belowDB  = 20    // under the loudest, a sudden sound is left out
	restS    = 0.15  // after one in which no other begins: a room answers
	peakS    = 20e-3 // in which it is loudest
	aheadS   = 4e-3  // before the rise is noticed, that it may have begun
	silence  = 1e-12 // power that counts as none, of 1 for full scale
	lowRate  = 8000  // samples a second, the fewest that are listened to
	highRate = 384000
)

// An Onset is one sudden sound.
type Onset struct {
	AtS     float64 `json:"at_s"`     // on the axis of the recording
	LevelDB float64 `json:"level_db"` // of its loudest ms, differenced; 0 is full scale
	RiseDB  float64 `json:"rise_db"`  // above what was heard before it
} //	@name	Onset

// Find returns the loudest sudden sounds of a recording, at most so many, in
// order of time, and the channel in which they stand out most. There may be none.
func Find(sounds []recording.Sound, most int) (best recording.Track, found []Onset) {
	rise := math.Inf(-1)
	for i := range sounds {
		s := &sounds[i]
		if s.Rate < lowRate || s.Rate > highRate || math.IsNaN(s.StartS) || math.IsInf(s.StartS, 0) {
			continue
		}
		for channel, x := range s.Channels {
			heard := find(difference(x), float64(s.Rate), s.StartS)
			if len(heard) == 0 {
				continue
			}
			if loudest := heard[0]; loudest.RiseDB > rise {
				rise, found = loudest.RiseDB, heard
				best = recording.Track{Stream: s.Stream, Channel: channel}
			}
		}
	}
	found = found[:min(len(found), max(most, 0))]
	slices.SortFunc(found, func(a, b Onset) int { return cmp.Compare(a.AtS, b.AtS) })
	return best, found
}

// find returns the sudden sounds of one channel, the loudest first.
func find(y []float64, rate, startS float64) []Onset {
	n := int(math.Round(rate * stepS))
	power := powers(y, n)
	sums := make([]float64, len(power)+1)
	for i, p := range power {
		sums[i+1] = sums[i] + p
	}
	mean := func(from, to int) float64 { return max((sums[to]-sums[from])/float64(to-from), silence) }
	var all []Onset
	rest := int(restS / stepS)
	for k := leastN; k+shortN <= len(power); k++ {
		ratio := mean(k, k+shortN) / mean(max(0, k-longN), k)
		if 10*math.Log10(ratio) < riseDB {
			continue
		}
		at, level := half(y, k*n-int(rate*aheadS), k*n+int(rate*peakS))
		steps := power[k:min(k+int(peakS/stepS), len(power))]
		loudest := slices.Max(steps)
		if level > 0 {
			all = append(all, Onset{
				AtS: startS + float64(at)/rate, LevelDB: 10 * math.Log10(loudest), RiseDB: 10 * math.Log10(loudest/mean(max(0, k-longN), k)),
			})
		}
		k += rest
	}
	slices.SortStableFunc(all, func(a, b Onset) int { return cmp.Compare(b.LevelDB, a.LevelDB) })
	if len(all) > 0 {
		least := all[0].LevelDB - belowDB
		all = slices.DeleteFunc(all, func(o Onset) bool { return o.LevelDB < least })
	}
	return all
}

// difference takes each sample from the next; what is no number is silent.
func difference(x []float32) []float64 {
	y := make([]float64, len(x))
	before := 0.0
	for i, v := range x {
		now := float64(v)
		if !(math.Abs(now) <= 16) { // also NaN
			now = 0
		}
		if i > 0 {
			y[i] = now - before
		}
		before = now
	}
	return y
}

// powers are the mean squares of steps of n samples.
func powers(y []float64, n int) []float64 {
	out := make([]float64, len(y)/n)
	for k := range out {
		sum := 0.0
		for _, v := range y[k*n : (k+1)*n] {
			sum += v * v
		}
		out[k] = sum / float64(n)
	}
	return out
}

// half returns the first sample of a stretch that reaches half of its peak, and that peak.
func half(y []float64, from, to int) (at int, peak float64) {
	from, to = max(from, 0), min(to, len(y))
	for _, v := range y[from:to] {
		peak = max(peak, math.Abs(v))
	}
	for i, v := range y[from:to] {
		if math.Abs(v) >= peak/2 {
			return from + i, peak
		}
	}
	return from, 0
}

// Package converge compares two ways of bringing a rig into its limit, on simulated rigs.
//
// The habit of the trade (common practice, no source) is to read the remaining offset by eye, dial it
// in and read again: every new reading replaces all former ones. The book keeps them: it averages all
// readings of the rig, says how far the next power-up may lie from that, and plans the setting on the
// control's grid.
//
// A simulated rig has one camera on its own clock, so every power-up has a phase that is uniform over
// one frame, a recording read by eye to half frames (both ends counted in frames, so the reading error
// is the sum of two uniforms of one frame), 1 ms of other scatter, and one sound delay in whole frames.
// Every check is made in a new power-up. A setting is good when its true chance to be in the limit at
// the next power-up, phase and scatter included, is at least the target.
package converge

import (
	"errors"
	"math"
	"math/big"
	"math/rand/v2"

	"delaybook/domain/law"
	"delaybook/domain/plan"
)

// A Setup is one comparison.
type Setup struct {
	// FrameMS is one frame, ms, exact.
	FrameMS *big.Rat
	// Window is the limit, ms.
	Window law.Window
	// MaxFrames is the range of the sound delay, whole frames from 0.
	MaxFrames int
	// Target is the chance a good setting has.
	Target float64
	// Rigs is how many rigs are simulated, Checks how many checks each gets, Seed where chance starts.
	Rigs, Checks int
	Seed         uint64
}

// An Outcome is what one way reached.
type Outcome struct {
	// GoodAfter[k] is the share of rigs whose setting is good after k+1 readings.
	GoodAfter []float64
	// First[k] is the share whose first good setting came with reading k+1; Settled[k] the share whose
	// setting is good from reading k+1 on. Who dials in each last reading meets a good setting by luck
	// about as soon as the book, and leaves it again with the next reading.
	First, Settled []float64
	// Moves is the mean number of times a setting was changed after the first reading.
	Moves float64
}

// Mean is the mean number of readings of such shares; rigs in none count as one more than all.
func Mean(shares []float64) float64 {
	mean, left := 0.0, 1.0
	for k, share := range shares {
		mean += share * float64(k+1)
		left -= share
	}
	return mean + left*float64(len(shares)+1)
}

// ErrSetup says that a setup cannot be simulated.
var ErrSetup = errors.New("setup needs a frame length, a target between 0.5 and 0.999, a range, rigs and checks above 0")

// otherSD is the scatter beside phase and reading, ms.
const otherSD = 1

// Run simulates every rig twice, with the same true offset and the same chance: once with the book,
// once by habit.
func Run(s Setup) (book, habit Outcome, err error) {
	if s.FrameMS == nil || s.FrameMS.Sign() <= 0 || s.MaxFrames < 1 || s.Rigs < 1 || s.Checks < 1 || !(s.Target >= 0.5 && s.Target <= 0.999) {
		return Outcome{}, Outcome{}, ErrSetup
	}
	book, habit = newOutcome(s), newOutcome(s)
	for rig := range s.Rigs {
		w := &way{Setup: s}
		w.frame, _ = s.FrameMS.Float64()
		rng := rand.New(rand.NewPCG(s.Seed, uint64(rig)))
		w.truth = w.frame * float64(s.MaxFrames) * (0.15 + 0.7*rng.Float64())
		draws := make([][4]float64, s.Checks)
		for k := range draws {
			draws[k] = [4]float64{rng.Float64() - 0.5, rng.Float64() - 0.5, rng.Float64() - 0.5, rng.NormFloat64()}
		}
		if err := w.follow(draws, &book, w.planned); err != nil {
			return Outcome{}, Outcome{}, err
		}
		if err := w.follow(draws, &habit, w.dialled); err != nil {
			return Outcome{}, Outcome{}, err
		}
	}
	book.divide(s.Rigs)
	habit.divide(s.Rigs)
	return book, habit, nil
}

func newOutcome(s Setup) Outcome {
	return Outcome{GoodAfter: make([]float64, s.Checks), First: make([]float64, s.Checks), Settled: make([]float64, s.Checks)}
}

func (o *Outcome) divide(rigs int) {
	for k := range o.GoodAfter {
		o.GoodAfter[k] /= float64(rigs)
		o.First[k] /= float64(rigs)
		o.Settled[k] /= float64(rigs)
	}
	o.Moves /= float64(rigs)
}

// A way is one rig being brought into its limit.
type way struct {
	Setup
	frame, truth float64
}

// follow takes the checks one after the other; next says what to set given all offsets read so far
// (each with the setting of its time put back) and the setting in force.
func (w *way) follow(draws [][4]float64, o *Outcome, next func(offsets []float64, now int) (int, error)) error {
	now, first, settled := 0, true, len(draws)
	var offsets []float64
	for k, d := range draws {
		after := w.truth - float64(now)*w.frame + w.frame*d[0] + otherSD*d[3]
		read := math.Round(2*(after/w.frame+d[1]+d[2])) / 2 * w.frame
		offsets = append(offsets, read+float64(now)*w.frame)
		set, err := next(offsets, now)
		if err != nil {
			return err
		}
		if set != now && k > 0 {
			o.Moves++
		}
		now = set
		if !w.good(now) {
			settled = len(draws)
			continue
		}
		o.GoodAfter[k]++
		settled = min(settled, k)
		if first {
			o.First[k]++
			first = false
		}
	}
	if settled < len(draws) {
		o.Settled[settled]++
	}
	return nil
}

// good is by the truth.
func (w *way) good(frames int) bool {
	l := law.Law{A: w.frame / 2, S: otherSD, Q: 1}
	return l.Chance(w.truth-float64(frames)*w.frame, w.Window) >= w.Target
}

// dialled is the habit: the last reading is what is still to be set.
func (w *way) dialled(offsets []float64, _ int) (int, error) {
	return min(max(int(math.Round(offsets[len(offsets)-1]/w.frame)), 0), w.MaxFrames), nil
}

// planned is the book: the mean of all readings, its law, and the plan.
func (w *way) planned(offsets []float64, now int) (int, error) {
	n, mean := float64(len(offsets)), 0.0
	for _, x := range offsets {
		mean += x / n
	}
	// One measurement: reading T^2/6, phase T^2/12, other scatter; the next power-up has the last two.
	t2 := w.frame * w.frame
	m := (t2/6+t2/12+otherSD*otherSD)/n + t2/12 + otherSD*otherSD
	kappa := -math.Pow(w.frame, 4) / 120 * (1 + 3/math.Pow(n, 3))
	l, err := law.FromMoments(m, kappa, 4+n-1)
	if err != nil {
		return 0, err
	}
	got, err := plan.Solve(w.problem(mean, l, now, len(offsets) > 1), plan.Budget{})
	if err != nil {
		return 0, err
	}
	return int(got.Settings[0].Value.Num().Int64()), nil
}

func (w *way) problem(mean float64, l law.Law, now int, dialled bool) plan.Problem {
	c := plan.Control{Name: "delay", Signal: plan.Sound, Unit: "frame", UnitMS: w.FrameMS, Max: big.NewRat(int64(w.MaxFrames), 1)}
	if dialled {
		c.Now = big.NewRat(int64(now), 1)
	}
	return plan.Problem{
		Target:   big.NewRat(int64(math.Round(1000*w.Target)), 1000),
		Controls: []plan.Control{c},
		Chains:   []plan.Chain{{Slug: "cam", Signal: plan.Picture}, {Slug: "mic", Signal: plan.Sound, Controls: []string{"delay"}}},
		Destinations: []plan.Destination{{
			Slug: "programme", EarlyMS: plan.RatMS(w.Window.Early), LateMS: plan.RatMS(w.Window.Late),
		}},
		Pairs: []plan.Pair{{Picture: "cam", Sound: "mic", Destination: "programme", LocationMS: plan.RatMS(mean), Law: l}},
	}
}

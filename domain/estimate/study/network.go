package study

import (
	"fmt"
	"math/rand/v2"

	"delaybook/domain/estimate"
)

// A Network is one situation of the network study: many rigs built from few
// models, and the question what a rig would give that was never measured.
type Network struct {
	Rigs       int     // measured
	BadPercent float64 // measurements with a swapped sign, or doubled or halved as a wrong frame rate does
}

// Networks lists the network study.
func Networks() []Network {
	var out []Network
	for _, rigs := range []int{8, 12, 24} {
		for _, bad := range []float64{0, 5, 10} {
			out = append(out, Network{Rigs: rigs, BadPercent: bad})
		}
	}
	return out
}

// The world of the network study: the models, and how wrong the stated values,
// cards and units are (standard deviations, ms).
const (
	pictureModels = 8
	soundModels   = 5
	pictureStated = 15
	soundStated   = 5
	cardSources   = 3
	cardSaid      = 3
	networkUnit   = 1
	asked         = 5 // rigs never measured, per replicate
)

// A NetworkResult is what the study gave for rigs that were never measured.
type NetworkResult struct {
	Network Network

	Mean, Next Tally
	Ours       Errors // of the estimate
	Stated     Errors // of the sum of stated values
	Least      Errors // of ordinary least squares on all events, where it determines the rig
	Shortest   Errors // of its answer of least norm, everywhere

	Measurements, Bad      int
	FlagsRight, FlagsWrong int
}

// chain is the models of one signal of a rig, first stage first.
type chain []int

// plan is a rig of the network: a picture chain and a sound chain.
type plan struct{ picture, sound chain }

// network is one simulated world.
type network struct {
	*world
	pictures, sounds []float64 // latency of each model
	free             []bool    // picture models with a clock of their own
	cards            []float64
	stated           [2][]float64
	bad              map[string]bool // measurements by ID
	rows             [][]float64     // design of ordinary least squares, one row per event
	values           []float64
}

// Run simulates the network the given number of times.
func (n Network) Run(seed uint64, replicates int) (NetworkResult, error) {
	out := NetworkResult{Network: n}
	for k := range replicates {
		w := newNetwork(rand.New(rand.NewPCG(seed, uint64(k))))
		for r := range n.Rigs {
			w.measureRig(fmt.Sprintf("rig-%02d", r), n.BadPercent)
		}
		if err := w.score(&out); err != nil {
			return out, fmt.Errorf("network of %d rigs, %g %% bad, replicate %d: %w", n.Rigs, n.BadPercent, k, err)
		}
	}
	return out, nil
}

func newNetwork(rng *rand.Rand) *network {
	w := &network{world: newWorld(rng), bad: make(map[string]bool)}
	w.unit = networkUnit
	for k := range pictureModels {
		w.pictures = append(w.pictures, w.between(10, 100))
		w.free = append(w.free, rng.IntN(4) == 0)
		w.state(estimate.Picture, k, w.pictures[k]+w.normal(pictureStated), pictureStated)
	}
	for k := range soundModels {
		w.sounds = append(w.sounds, w.between(1, 30))
		w.state(estimate.Sound, k, w.sounds[k]+w.normal(soundStated), soundStated)
	}
	for k := range cardSources {
		w.cards = append(w.cards, w.normal(cardSaid))
		w.book.CardSources = append(w.book.CardSources, estimate.CardSource{Slug: cardSlug(k), UMS: cardSaid})
	}
	return w
}

func cardSlug(k int) string { return fmt.Sprintf("card-%d", k) }

func modelSlug(signal estimate.Signal, k int) string { return fmt.Sprintf("%s-model-%d", signal, k) }

func (w *network) state(signal estimate.Signal, k int, value, u float64) {
	w.device(modelSlug(signal, k), string(signal)+" processor")
	side := 0
	if signal == estimate.Sound {
		side = 1
	}
	w.stated[side] = append(w.stated[side], value)
	w.book.Stated = append(w.book.Stated, estimate.Stated{
		ID: modelSlug(signal, k), Device: modelSlug(signal, k), Mode: "normal",
		Signal: signal, ValueMS: value, UMS: u, Source: "data sheet",
	})
}

// draw makes a rig of 2 to 4 picture and 1 to 2 sound models.
func (w *network) draw() plan {
	return plan{
		picture: w.rng.Perm(pictureModels)[:2+w.rng.IntN(3)],
		sound:   w.rng.Perm(soundModels)[:1+w.rng.IntN(2)],
	}
}

// addPlan puts a rig in the book and returns the truth of its units: the sum of
// their latencies without phases, and how many of them run free.
func (w *network) addPlan(id string, p plan) (offset float64, free int) {
	stages := func(signal estimate.Signal, models chain) []estimate.Stage {
		var out []estimate.Stage
		for _, k := range models {
			slug := modelSlug(signal, k)
			s := estimate.Stage{Device: slug, Mode: "normal", Unit: slug + "-of-" + id}
			if signal == estimate.Picture {
				s.Timing = estimate.HouseTiming
				if w.free[k] {
					s.Timing = estimate.FreeTiming
				}
			}
			out = append(out, s)
		}
		return out
	}
	w.book.Rigs = append(w.book.Rigs, estimate.Rig{ID: id, Slug: id, FrameRate: rate(), Chains: []estimate.Chain{
		{Slug: "picture", Signal: estimate.Picture, Stages: stages(estimate.Picture, p.picture)},
		{Slug: "sound-1", Signal: estimate.Sound, Stages: stages(estimate.Sound, p.sound)},
	}})
	for _, k := range p.picture {
		offset += w.pictures[k] + w.normal(w.unit)
		if w.free[k] {
			free++
		}
	}
	for _, k := range p.sound {
		offset -= w.sounds[k] + w.normal(w.unit)
	}
	return offset, free
}

// measureRig adds a rig with 2 to 5 measurements of 1, 5 or 20 events, four in
// ten of them read by eye.
func (w *network) measureRig(id string, badPercent float64) {
	p := w.draw()
	offset, free := w.addPlan(id, p)
	for powerUp := range 2 + w.rng.IntN(4) {
		card := w.rng.IntN(cardSources)
		h := how{method: estimate.Clip, card: cardSlug(card), cardMS: w.cards[card]}
		if w.rng.Float64() < 0.4 {
			h.method, h.said, h.one = estimate.Eye, estimate.BothSides, false
			if free > 0 {
				h.said, h.one = estimate.OneSide, true
			}
		}
		phase := 0.0
		for range free {
			phase += w.phase(true)
		}
		// The sum stands for the whole rig: measure needs a picture and a sound.
		r := rig{id: id, picture: offset, sounds: []float64{0}}
		events := w.measure(r, 0, powerUp, phase, h, []int{1, 5, 20}[w.rng.IntN(3)])
		if 100*w.rng.Float64() < badPercent {
			events = w.spoil(events)
		}
		for _, v := range events {
			w.rows, w.values = append(w.rows, p.row()), append(w.values, v)
		}
	}
}

// spoil falsifies the last measurement and returns its events as the book now
// has them.
func (w *network) spoil(events []float64) []float64 {
	factor := []float64{-1, 2, 0.5}[w.rng.IntN(3)]
	m := &w.book.Measurements[len(w.book.Measurements)-1]
	w.bad[m.ID] = true
	out := make([]float64, len(events))
	for k, v := range events {
		out[k] = factor * v
		m.Readings[k] = reading(out[k], m.Method)
	}
	return out
}

// row is the design of ordinary least squares: one column per model.
func (p plan) row() []float64 {
	x := make([]float64, pictureModels+soundModels)
	for _, k := range p.picture {
		x[k] = 1
	}
	for _, k := range p.sound {
		x[pictureModels+k] = -1
	}
	return x
}

// score asks for rigs of new units and compares every way of predicting them.
func (w *network) score(out *NetworkResult) error {
	type wanted struct {
		plan       plan
		mean, next float64
	}
	var rigs []wanted
	for k := range asked {
		p := w.draw()
		offset, free := w.addPlan(fmt.Sprintf("asked-%d", k), p)
		next := offset + w.normal(w.take)
		for range free {
			next += w.phase(true)
		}
		rigs = append(rigs, wanted{p, offset + float64(free)*frameMS/2, next})
	}
	solution, err := estimate.Fit(w.book)
	if err != nil {
		return err
	}
	least := leastSquares(w.rows, w.values)
	for k, r := range rigs {
		answer, err := solution.Offset(estimate.OffsetQuery{Rig: fmt.Sprintf("asked-%d", k), First: "picture", Second: "sound-1"})
		if err != nil {
			return err
		}
		if answer.Estimate == nil || answer.Next == nil {
			return fmt.Errorf("asked-%d is not determined: %s", k, answer.Why)
		}
		out.Mean.count(answer.Estimate.Interval[0], answer.Estimate.Interval[1], r.mean)
		out.Next.count(answer.Next.Interval[0], answer.Next.Interval[1], r.next)
		out.Ours.add(answer.Estimate.ValueMS - r.mean)
		out.Stated.add(w.statedSum(r.plan) - r.mean)
		value, determined := least.predict(r.plan.row())
		out.Shortest.add(value - r.mean)
		if determined {
			out.Least.add(value - r.mean)
		}
	}
	w.countFlags(solution, out)
	return nil
}

// statedSum adds the stated values of a rig, and half a frame for each free
// stage, as a careful reader of data sheets would.
func (w *network) statedSum(p plan) float64 {
	sum := 0.0
	for _, k := range p.picture {
		sum += w.stated[0][k]
		if w.free[k] {
			sum += frameMS / 2
		}
	}
	for _, k := range p.sound {
		sum -= w.stated[1][k]
	}
	return sum
}

func (w *network) countFlags(s *estimate.Solution, out *NetworkResult) {
	out.Measurements += len(w.book.Measurements)
	out.Bad += len(w.bad)
	for _, r := range s.Reports() {
		switch {
		case r.Doubtful && w.bad[r.ID]:
			out.FlagsRight++
		case r.Doubtful:
			out.FlagsWrong++
		}
	}
}

package study

import (
	"fmt"
	"math/rand/v2"

	"delaybook/domain/estimate"
)

// A Cell is one situation of the coverage study.
type Cell struct {
	Name         string
	Measurements int // of the rig asked about, each in a power-up of its own
	Events       int // of each measurement
	Others       int // further rigs of the same kind in the book, three measurements each
	Careful      bool

	scene scene
}

// scene is what a cell simulates.
type scene struct {
	free    bool
	how     how
	unnamed bool // the card source is not named and off by N(0, 15 ms)
	sounds  int  // microphones on the camera, all measured in every power-up
	mixed   bool // whether one side or both were counted is drawn anew for each book
}

// exactCard names a card source whose own offset a person has measured: the
// cells with it study everything but the card.
const exactCard = "measured-card"

// cardSD is the standard uncertainty, ms, that an unnamed card source counts
// with.
const cardSD = 15

// Names of the situations.
const (
	ClipGenlocked   = "clip, genlocked"
	ClipFree        = "clip, free-running"
	EyeFree         = "eye one side, free-running"
	EyeBothSides    = "eye both sides, genlocked"
	EyeUnknown      = "eye not said, genlocked"
	FourMicrophones = "four microphones, one free-running camera"
	UnnamedCard     = "clip, genlocked, card not named"
)

var scenes = []struct {
	name    string
	careful bool
	scene   scene
}{
	{ClipGenlocked, false, scene{how: how{method: estimate.Clip, card: exactCard}, sounds: 1}},
	{ClipFree, false, scene{free: true, how: how{method: estimate.Clip, card: exactCard}, sounds: 1}},
	{EyeFree, false, scene{free: true, how: how{method: estimate.Eye, said: estimate.OneSide, one: true, card: exactCard}, sounds: 1}},
	{EyeBothSides, false, scene{how: how{method: estimate.Eye, said: estimate.BothSides, card: exactCard}, sounds: 1}},
	{EyeUnknown, true, scene{how: how{method: estimate.Eye, said: estimate.EyeUnknown, card: exactCard}, sounds: 1, mixed: true}},
	{FourMicrophones, false, scene{free: true, how: how{method: estimate.Clip, card: exactCard}, sounds: 4}},
	{UnnamedCard, false, scene{how: how{method: estimate.Clip}, sounds: 1, unnamed: true}},
}

// Cells lists the coverage study: every situation with 1 to 10 measurements of
// 1, 5 and 20 events, alone in the book and beside eight other rigs.
func Cells() []Cell {
	var out []Cell
	for _, s := range scenes {
		for _, others := range []int{0, 8} {
			for _, n := range []int{1, 2, 3, 4, 6, 10} {
				for _, events := range []int{1, 5, 20} {
					out = append(out, Cell{
						Name: s.name, Measurements: n, Events: events, Others: others,
						Careful: s.careful, scene: s.scene,
					})
				}
			}
		}
	}
	return out
}

// A Result is what one cell gave for one target.
type Result struct {
	Cell   Cell
	Target string
	Mean   Tally // ci95 against the mean over power-ups
	Next   Tally // next95 against one more power-up
	Naive  Tally // the pooled t interval against the mean; no trials where it does not exist
}

// Failed reports whether a range covers less than it says, or more without a
// careful rule.
func (r Result) Failed() bool {
	bad := func(v Verdict) bool { return v == TooNarrow || v == TooWide }
	return bad(r.Mean.Judge(r.Cell.Careful)) || bad(r.Next.Judge(r.Cell.Careful))
}

// target is a pair whose truth is known.
type target struct {
	name       string
	query      estimate.OffsetQuery
	mean, next float64
	events     []float64
}

// Run simulates the cell the given number of times and returns a result for
// each target. The error is the estimator's on a book it should have solved.
func (c Cell) Run(seed uint64, replicates int) ([]Result, error) {
	var out []Result
	for k := range replicates {
		rng := rand.New(rand.NewPCG(seed, uint64(k)))
		w := newWorld(rng)
		targets := c.simulate(w)
		if out == nil {
			out = make([]Result, len(targets))
		}
		if err := c.score(w.book, targets, out); err != nil {
			return nil, fmt.Errorf("%s, %d measurements of %d events, replicate %d: %w", c.Name, c.Measurements, c.Events, k, err)
		}
	}
	return out, nil
}

func (c Cell) score(book estimate.Book, targets []target, out []Result) error {
	solution, err := estimate.Fit(book)
	if err != nil {
		return err
	}
	for i, t := range targets {
		answer, err := solution.Offset(t.query)
		if err != nil {
			return err
		}
		if answer.Estimate == nil || answer.Next == nil {
			return fmt.Errorf("%s is not determined: %s", t.name, answer.Why)
		}
		r := &out[i]
		r.Cell, r.Target = c, t.name
		r.Mean.count(answer.Estimate.Interval[0], answer.Estimate.Interval[1], t.mean)
		r.Next.count(answer.Next.Interval[0], answer.Next.Interval[1], t.next)
		if low, high, ok := pooled(t.events); ok {
			r.Naive.count(low, high, t.mean)
		}
	}
	return nil
}

func (c Cell) simulate(w *world) []target {
	s := c.scene
	if s.mixed {
		s.how.one = w.rng.IntN(2) == 0
	}
	if s.how.card == exactCard {
		w.book.CardSources = []estimate.CardSource{{Slug: exactCard, UMS: 1e-3}}
	}
	for k := range c.Others {
		r, h := w.sceneRig(fmt.Sprintf("other-%d", k), s)
		for powerUp := range 3 {
			w.powerUp(r, s, h, powerUp, c.Events)
		}
	}
	r, h := w.sceneRig("rig", s)
	events := make([]float64, 0, c.Measurements*c.Events)
	for powerUp := range c.Measurements {
		events = append(events, w.powerUp(r, s, h, powerUp, c.Events)...)
	}
	return w.targets(r, s, events)
}

// sceneRig adds a rig. Where a scene has several microphones, one more is
// rigged that is never measured: a second unit of the first one's model.
func (w *world) sceneRig(id string, s scene) (rig, how) {
	models, latencies := make([]string, s.sounds), make(map[string]float64)
	for k := range models {
		models[k] = fmt.Sprintf("microphone-%s-%d", id, k+1)
		latencies[models[k]] = w.between(0, 40)
	}
	if s.sounds > 1 {
		models = append(models, models[0])
	}
	h := s.how
	if s.unnamed {
		h.cardMS = w.normal(cardSD)
	}
	return w.addRig(id, s.free, models, latencies), h
}

// powerUp measures every microphone once in a power-up, and returns the events
// of the first.
func (w *world) powerUp(r rig, s scene, h how, powerUp, events int) []float64 {
	phase := w.phase(r.free)
	first := w.measure(r, 0, powerUp, phase, h, events)
	for sound := 1; sound < s.sounds; sound++ {
		w.measure(r, sound, powerUp, phase, h, events)
	}
	return first
}

func (w *world) targets(r rig, s scene, events []float64) []target {
	phase := w.phase(r.free)
	pair := func(name string, sound int) target {
		return target{
			name: name, query: r.query("picture", soundChain(sound)),
			mean: r.mean(sound), next: r.offset(sound, phase) + w.normal(w.take),
		}
	}
	first := pair("pair", 0)
	first.events = events
	if s.sounds == 1 {
		return []target{first}
	}
	difference := r.sounds[0] - r.sounds[1]
	return []target{
		first,
		pair("a microphone never measured", s.sounds),
		{
			name: "between microphones", query: r.query(soundChain(0), soundChain(1)),
			mean: difference, next: difference + w.normal(w.take),
		},
	}
}

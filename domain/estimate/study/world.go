package study

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"delaybook/domain/estimate"
	"delaybook/domain/timebase"
)

// frameMS is one frame of the simulated rigs and recordings, which run at 25
// frames per second.
const frameMS = 40

// priorNu is the weight of the estimator's prior variances, whose mean square
// is 1 ms^2: the truth is drawn from the same law, a scaled inverse chi-squared.
const priorNu = 4

// world is a book in the making with the truth behind it.
type world struct {
	rng              *rand.Rand
	take, read, unit float64 // standard deviations, ms: between power-ups, of an event, between units
	book             estimate.Book
}

// rig is a camera with microphones and what they truly delay, ms.
type rig struct {
	id      string
	free    bool // the camera runs on its own clock
	picture float64
	sounds  []float64
}

// how is the way a measurement is made.
type how struct {
	method estimate.Method
	said   estimate.EyeRule // what the crew says of the reading
	one    bool             // truth of a reading by eye: one side counted in frames, else both
	card   string           // named source; empty: not named
	cardMS float64          // its true offset
}

func newWorld(rng *rand.Rand) *world {
	return &world{rng: rng, take: priorSD(rng), read: priorSD(rng), unit: priorSD(rng)}
}

// priorSD draws a standard deviation in ms from the prior.
func priorSD(rng *rand.Rand) float64 {
	chi := 0.0
	for range priorNu {
		z := rng.NormFloat64()
		chi += z * z
	}
	return math.Sqrt(priorNu / chi)
}

func rate() timebase.Rate {
	r, err := timebase.NewRate(25, 1)
	if err != nil {
		panic(err) // 25 is a rate
	}
	return r
}

func (w *world) normal(sd float64) float64    { return sd * w.rng.NormFloat64() }
func (w *world) between(a, b float64) float64 { return a + (b-a)*w.rng.Float64() }

// phase draws what a free camera adds in one power-up, 0 for a locked one.
func (w *world) phase(free bool) float64 {
	if !free {
		return 0
	}
	return w.between(0, frameMS)
}

// device adds a model unless the book has it.
func (w *world) device(slug, kind string) {
	for _, d := range w.book.Devices {
		if d.Slug == slug {
			return
		}
	}
	w.book.Devices = append(w.book.Devices, estimate.Device{
		Slug: slug, Kind: kind, Modes: []estimate.Mode{{Slug: "normal"}},
	})
}

// addRig adds a camera of its own model and microphones. models names the
// models of the microphones and latencies the latency of each model, ms.
func (w *world) addRig(id string, free bool, models []string, latencies map[string]float64) rig {
	r := rig{id: id, free: free, picture: w.between(40, 200) + w.normal(w.unit)}
	timing := estimate.HouseTiming
	if free {
		timing = estimate.FreeTiming
	}
	w.device("camera-"+id, "camera")
	chains := []estimate.Chain{{Slug: "picture", Signal: estimate.Picture, Stages: []estimate.Stage{
		{Device: "camera-" + id, Mode: "normal", Unit: "camera-" + id, Timing: timing},
	}}}
	for k, model := range models {
		w.device(model, "microphone")
		chains = append(chains, estimate.Chain{Slug: soundChain(k), Signal: estimate.Sound, Stages: []estimate.Stage{
			{Device: model, Mode: "normal", Unit: fmt.Sprintf("%s-%s-%d", model, id, k)},
		}})
		r.sounds = append(r.sounds, latencies[model]+w.normal(w.unit))
	}
	w.book.Rigs = append(w.book.Rigs, estimate.Rig{ID: id, Slug: id, FrameRate: rate(), Chains: chains})
	return r
}

func soundChain(k int) string { return fmt.Sprintf("sound-%d", k+1) }

// offset is the truth of a pair in a power-up whose camera adds phase.
func (r rig) offset(sound int, phase float64) float64 { return r.picture + phase - r.sounds[sound] }

// mean is the truth of a pair over all power-ups.
func (r rig) mean(sound int) float64 {
	if r.free {
		return r.offset(sound, frameMS/2)
	}
	return r.offset(sound, 0)
}

// measure adds a measurement of a pair with the given number of events and
// returns the events as a crew would write them down, ms.
func (w *world) measure(r rig, sound, powerUp int, phase float64, h how, events int) []float64 {
	offset := r.offset(sound, phase) + w.normal(w.take) + h.cardMS
	values := w.events(offset, h, events)
	m := estimate.Measurement{
		ID:  fmt.Sprintf("m-%05d", len(w.book.Measurements)),
		Rig: r.id, First: "picture", Second: soundChain(sound),
		Method: h.method, Eye: h.said, CardSource: h.card,
		PowerUp: fmt.Sprintf("power-up-%d", powerUp),
		TakenAt: time.Date(2024, 1, 1+powerUp, 12, 0, 0, 0, time.UTC),
	}
	for _, v := range values {
		m.Readings = append(m.Readings, reading(v, h.method))
	}
	w.book.Measurements = append(w.book.Measurements, m)
	return values
}

// events draws the events of one measurement. By eye, the events of one
// recording share the phase of its frames. One side counted: the picture falls
// on a frame and the sound is read exactly, so the difference is a rounded
// count. Both sides: each falls into the frame that holds it.
func (w *world) events(offset float64, h how, n int) []float64 {
	frames := w.between(0, 1)
	out := make([]float64, n)
	for k := range out {
		v := offset + w.normal(w.read)
		switch {
		case h.method == estimate.Clip:
			out[k] = v
		case h.one:
			out[k] = frameMS * math.Round(v/frameMS)
		default:
			out[k] = frameMS * math.Floor(v/frameMS+frames)
		}
	}
	return out
}

func reading(v float64, method estimate.Method) estimate.Reading {
	if method == estimate.Clip {
		return estimate.Reading{OffsetMS: &v}
	}
	frames := math.Abs(v) / frameMS
	heard := estimate.InSync
	switch {
	case v > 0:
		heard = estimate.Early
	case v < 0:
		heard = estimate.Late
	}
	return estimate.Reading{Frames: &frames, Heard: heard}
}

// query asks for a pair of a rig; second is a sound chain, first may be one.
func (r rig) query(first, second string) estimate.OffsetQuery {
	return estimate.OffsetQuery{Rig: r.id, First: first, Second: second}
}

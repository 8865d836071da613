package demo

import (
	"math"
	"math/rand/v2"

	"delaybook/domain"
	"delaybook/domain/air"
	"delaybook/domain/service"
	"delaybook/domain/timebase"
)

// A reality is what nobody in the demo knows: true latencies, and chance.
type reality struct {
	random     *rand.Rand
	msPerMetre float64
	units      map[string]float64 // own deviation of a unit, ms
	phases     map[string]float64 // of a free stage in the power-up now, as a part of a frame
}

func newReality(random *rand.Rand) (*reality, error) {
	room, err := air.At(21)
	if err != nil {
		return nil, err
	}
	return &reality{random: random, msPerMetre: room.MSPerMetre(), units: map[string]float64{}, phases: map[string]float64{}}, nil
}

// latencyFrames holds the true latency of picture devices in frames of their
// mode, latencyMS that of sound devices in ms. A switcher's sound inputs are
// nearly immediate.
var (
	latencyFrames = map[domain.Slug]float64{
		"cam-a": 3.2, "cam-b": 1.1, "mixer-s": 1.5, "link-l": 2.6, "conv-c": 1.9, "store-f": 2.0, "extend-x": 0.6, "screen-h": 1.8,
	}
	latencyMS = map[domain.Slug]float64{"radio-mic-w": 3.1, "desk-d": 1.15, "mixer-s": 1.4, "pa-h": 2.2}
)

// unitSD is how much units of one device differ, ms.
const unitSD = 0.6

// powerUp gives every free-running stage a new phase.
func (t *reality) powerUp() { clear(t.phases) }

// arrival returns when the event arrives over a chain at a destination, ms.
func (t *reality) arrival(rig service.RigView, chain domain.Slug, at *domain.Destination, set map[domain.Slug]float64) float64 {
	l := &rig.Shown.Layout
	c, _ := l.Chain(chain)
	stages := append(append([]domain.Stage{}, c.Stages...), at.Tail(c.Signal)...)
	total := 0.0
	if c.Signal == domain.Sound {
		total += (c.AirM + at.AirM) * t.msPerMetre
	}
	for i, s := range stages {
		total += t.stage(rig, c, i, s, l.FrameRate)
		for _, u := range s.Controls {
			total += set[u.Name]
		}
	}
	return total
}

func (t *reality) stage(rig service.RigView, c *domain.Chain, i int, s domain.Stage, rate timebase.Rate) float64 {
	d, _ := rig.Book.Device(s.Device)
	m, _ := d.ModeByID(s.Mode)
	if m.IsDirect(c.Signal) {
		return 0
	}
	key := string(rig.Slug) + "/" + string(c.Slug) + "/" + string(d.Slug) + "/" + string(c.Signal)
	if u, ok := d.UnitByID(s.Unit); ok {
		key = string(d.Slug) + "/" + u.Tag + "/" + string(c.Signal)
	}
	if _, known := t.units[key]; !known {
		t.units[key] = unitSD * t.random.NormFloat64()
	}
	if c.Signal == domain.Sound {
		return latencyMS[d.Slug] + t.units[key]/4
	}
	ms := latencyFrames[d.Slug]*m.FrameRate.FrameMS() + t.units[key]
	if s.Timing != domain.House && i == 0 {
		if _, known := t.phases[key]; !known {
			t.phases[key] = t.random.Float64()
		}
		ms += t.phases[key] * rate.FrameMS()
	}
	return ms
}

// frames returns an offset as a person counts it: in half frames where the
// sound's place between two pictures could be seen, else whole.
func (t *reality) frames(ms float64, rate timebase.Rate) (count float64, heard string) {
	step := 1.0
	if t.random.Float64() < 0.3 {
		step = 0.5
	}
	exact := math.Abs(ms)/rate.FrameMS() + (t.random.Float64()-0.5)*step
	count = math.Max(0, math.Round(exact/step)*step)
	switch {
	case count == 0:
		return 0, "in-sync"
	case ms > 0:
		return count, "early"
	}
	return count, "late"
}

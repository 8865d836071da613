package estimate_test

import (
	"fmt"
	"math/rand/v2"
	"time"

	"delaybook/domain/estimate"
	"delaybook/domain/timebase"
)

// randomBook invents a book: rigs drawn from a few models with anonymous and
// tagged units, all timings, tails, air and dials, measured in all ways.
func randomBook(random *rand.Rand, r25 timebase.Rate, rigs int) estimate.Book {
	var b estimate.Book
	pick := func(n int) int { return random.IntN(n) }
	for i := range 6 {
		d := estimate.Device{Slug: fmt.Sprintf("d%d", i), Kind: fmt.Sprintf("kind %d", i%3)}
		for j := range 2 {
			m := estimate.Mode{Slug: fmt.Sprintf("m%d", j), Varies: pick(8) == 0}
			if pick(2) == 0 {
				m.FrameRate = r25
			}
			if pick(6) == 0 {
				m.Direct = []estimate.Signal{[]estimate.Signal{estimate.Picture, estimate.Sound}[pick(2)]}
			}
			d.Modes = append(d.Modes, m)
		}
		d.Controls = []estimate.Control{{Slug: "c", Signal: estimate.Sound, Unit: estimate.MSUnit, EngagedMS: float64(pick(2))}}
		b.Devices = append(b.Devices, d)
	}
	for i := range rigs {
		b.Rigs = append(b.Rigs, randomRig(random, r25, fmt.Sprintf("rig%d", i)))
	}
	for i := range rigs * 4 {
		b.Measurements = append(b.Measurements, randomMeasurement(random, &b.Rigs[pick(rigs)], fmt.Sprintf("m%03d", i)))
	}
	for i := range pick(3) {
		b.Stated = append(b.Stated, estimate.Stated{
			ID: fmt.Sprintf("s%d", i), Device: fmt.Sprintf("d%d", pick(6)), Mode: "m0", Difference: &[2]estimate.Signal{estimate.Picture, estimate.Sound},
			ValueMS: random.NormFloat64() * 50, HalfWidthMS: 1 + random.Float64(),
		})
	}
	return b
}

func randomStages(random *rand.Rand, signal estimate.Signal, n int, name string) []estimate.Stage {
	var out []estimate.Stage
	for k := range n {
		s := estimate.Stage{Device: fmt.Sprintf("d%d", random.IntN(6)), Mode: fmt.Sprintf("m%d", random.IntN(2))}
		if random.IntN(2) == 0 {
			s.Unit = fmt.Sprintf("u%d", random.IntN(3))
		}
		if signal == estimate.Picture {
			s.Timing = []estimate.Timing{"", estimate.HouseTiming, estimate.FreeTiming, estimate.FreeTiming}[random.IntN(4)]
		} else if random.IntN(3) == 0 {
			s.Controls = []estimate.StageControl{{Control: "c", Name: fmt.Sprintf("%s-%d", name, k)}}
		}
		out = append(out, s)
	}
	return out
}

func randomRig(random *rand.Rand, rate timebase.Rate, id string) estimate.Rig {
	r := estimate.Rig{ID: id, FrameRate: rate}
	for i := range 2 {
		p, s := fmt.Sprintf("p%d", i), fmt.Sprintf("s%d", i)
		r.Chains = append(r.Chains,
			estimate.Chain{Slug: p, Signal: estimate.Picture, Stages: randomStages(random, estimate.Picture, 1+random.IntN(3), p)},
			estimate.Chain{Slug: s, Signal: estimate.Sound, AirM: random.Float64() * 10, Stages: randomStages(random, estimate.Sound, 1+random.IntN(2), s)})
	}
	r.Destinations = []estimate.Destination{{Slug: "programme"}, {
		Slug: "hall", AirM: 20, Picture: randomStages(random, estimate.Picture, 1, "tail"), Sound: randomStages(random, estimate.Sound, 1, "tail"),
	}}
	return r
}

func randomMeasurement(random *rand.Rand, r *estimate.Rig, id string) estimate.Measurement {
	m := estimate.Measurement{
		ID: id, Rig: r.ID, PowerUp: fmt.Sprintf("p%d", random.IntN(3)), TakenAt: evening.Add(time.Duration(random.IntN(300)) * time.Minute),
		ReadAt: []string{"programme", "hall"}[random.IntN(2)],
	}
	pairs := [][2]string{{"p0", "s0"}, {"p0", "s1"}, {"p1", "s0"}, {"p1", "s1"}, {"s0", "s1"}, {"p0", "p1"}, {"p0", estimate.Live}, {estimate.Live, "s1"}}
	pair := pairs[random.IntN(len(pairs))]
	m.First, m.Second = pair[0], pair[1]
	for _, c := range r.Chains {
		for _, s := range c.Stages {
			for _, k := range s.Controls {
				m.Settings = append(m.Settings, estimate.Setting{Control: k.Name, Value: float64(random.IntN(5))})
			}
		}
	}
	for _, s := range r.Destinations[1].Sound {
		for _, k := range s.Controls {
			m.Settings = append(m.Settings, estimate.Setting{Control: k.Name, Value: 1})
		}
	}
	switch method := random.IntN(4); {
	case m.First == "s0" && m.Second == "s1":
		m.Method = estimate.Tracks
		for range 1 + random.IntN(4) {
			m.Readings = append(m.Readings, estimate.Reading{OffsetMS: ptr(random.NormFloat64())})
		}
	case method == 0:
		m.Method, m.EventSDMS = estimate.Clip, random.Float64()*5
		m.CardSource = []string{"", "tablet"}[random.IntN(2)]
		m.Readings = []estimate.Reading{{OffsetMS: ptr(60 + 20*random.NormFloat64()), UMS: ptr(0.5)}}
	case method == 1:
		m.Method, m.Eye = estimate.Eye, []estimate.EyeRule{"", estimate.OneSide, estimate.BothSides}[random.IntN(3)]
		m.Readings = []estimate.Reading{{Frames: ptr(float64(random.IntN(6)) / 2), Heard: estimate.Early}}
		if *m.Readings[0].Frames == 0 {
			m.Readings[0].Heard = estimate.InSync
		}
	default:
		m.Method, m.AirC = estimate.Clap, ptr(25)
		for range 1 + random.IntN(3) {
			m.Readings = append(m.Readings, estimate.Reading{Frames: ptr(1 + float64(random.IntN(3))), Heard: estimate.Late})
		}
	}
	return m
}

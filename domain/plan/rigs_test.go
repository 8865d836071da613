package plan_test

import (
	"fmt"
	"math/big"
	"math/rand/v2"

	"delaybook/domain/law"
	"delaybook/domain/plan"
)

// A maker makes random small rigs: few enough settings to try them all, and all that a rig may have.
type maker struct {
	*rand.Rand
	p        plan.Problem
	settings int // so far
	most     int
	even     bool // everything in steps of 20 ms: many settings are as good, so that ties are broken
}

// randomRig is the rig of a seed, with at most 2500 settings.
func randomRig(seed uint64) plan.Problem { return randomRigUpTo(seed, 2500) }

func randomRigUpTo(seed uint64, settings int) plan.Problem {
	m := &maker{Rand: rand.New(rand.NewPCG(seed, 99)), settings: 1, most: settings, even: seed%3 == 0}
	m.p.Target = pick(m, big.NewRat(95, 100), big.NewRat(975, 1000), big.NewRat(9, 10), big.NewRat(6, 10))
	cameras, microphones, destinations := 1+m.IntN(4), 1+m.IntN(3), 1+m.IntN(2)
	var shared []string
	for range m.IntN(3) {
		shared = append(shared, m.control(plan.Sound))
	}
	var sharedPicture []string
	if m.even || m.IntN(4) == 0 {
		sharedPicture = append(sharedPicture, m.control(plan.Picture))
	}
	for i := range cameras {
		m.chain(fmt.Sprintf("cam-%d", i+1), plan.Picture, sharedPicture, 0.5)
	}
	for i := range microphones {
		m.chain(fmt.Sprintf("mic-%d", i+1), plan.Sound, shared, 0.8)
	}
	for i := range destinations {
		m.destination(fmt.Sprintf("out-%d", i+1))
	}
	for i := range m.IntN(3) {
		m.p.Feeds = append(m.p.Feeds, plan.Feed{
			Slug: fmt.Sprintf("feed-%d", i+1), Chain: fmt.Sprintf("mic-%d", 1+m.IntN(microphones)), MaxAddedMS: m.ms(0, 60),
		})
	}
	m.pairs()
	m.Shuffle(len(m.p.Controls), func(i, j int) { m.p.Controls[i], m.p.Controls[j] = m.p.Controls[j], m.p.Controls[i] })
	return m.p
}

func pick[T any](m *maker, from ...T) T { return from[m.IntN(len(from))] }

func (m *maker) ms(lo, hi int) *big.Rat { return big.NewRat(int64(10*lo+m.IntN(10*(hi-lo)+1)), 10) }

// control adds a control and returns its name.
func (m *maker) control(signal plan.Signal) string {
	count := 2 + m.IntN(7)
	if signal == plan.Picture {
		count = 2 + m.IntN(3)
	}
	for m.settings*count > m.most && count > 1 {
		count--
	}
	c := plan.Control{
		Name: fmt.Sprintf("c%d", len(m.p.Controls)+1), Signal: signal, Min: new(big.Rat), EngagedMS: new(big.Rat),
		UnitMS: pick(m, big.NewRat(1001, 30), big.NewRat(20, 1), big.NewRat(1, 1), big.NewRat(125, 12)),
		Step:   big.NewRat(1, 1),
	}
	if c.UnitMS.Cmp(big.NewRat(1, 1)) == 0 {
		c.Step = pick(m, big.NewRat(10, 1), big.NewRat(25, 1), big.NewRat(1, 2), big.NewRat(40, 1))
	}
	if m.IntN(5) == 0 {
		c.Min = new(big.Rat).Mul(c.Step, big.NewRat(int64(m.IntN(3)), 1))
	}
	if m.IntN(5) == 0 {
		c.EngagedMS = m.ms(0, 12)
	}
	if m.even {
		c.UnitMS, c.Step, c.Min, c.EngagedMS = big.NewRat(20, 1), big.NewRat(1, 1), new(big.Rat), new(big.Rat)
	}
	c.Max = new(big.Rat).Add(c.Min, new(big.Rat).Mul(c.Step, big.NewRat(int64(count-1), 1)))
	if m.IntN(5) < 2 {
		c.Now = new(big.Rat).Add(c.Min, new(big.Rat).Mul(c.Step, big.NewRat(int64(m.IntN(count)), 1)))
	}
	switch m.IntN(8) {
	case 0:
		c.Fixed = true
		if c.Now == nil {
			c.Now = c.Min
		}
		count = 1
	case 1:
		c.Now = new(big.Rat).Add(c.Max, big.NewRat(1, 3)) // off the grid
	}
	m.settings *= count
	m.p.Controls = append(m.p.Controls, c)
	return c.Name
}

func (m *maker) chain(slug string, signal plan.Signal, shared []string, own float64) {
	c := plan.Chain{Slug: slug, Signal: signal}
	for _, name := range shared {
		if m.IntN(3) > 0 {
			c.Controls = append(c.Controls, name)
		}
	}
	for m.Float64() < own && m.settings < m.most {
		c.Controls = append(c.Controls, m.control(signal))
		own /= 2
	}
	m.p.Chains = append(m.p.Chains, c)
}

func (m *maker) destination(slug string) {
	// EBU R37-2007, Rec. ITU-R BT.1359-1, ATSC IS-191, EBU R37 per stage, and a company's own.
	w := pick(m, [2]int64{40, 60}, [2]int64{40, 60}, [2]int64{45, 125}, [2]int64{45, 125}, [2]int64{90, 185}, [2]int64{15, 45}, [2]int64{5, 15}, [2]int64{30, 30})
	d := plan.Destination{Slug: slug, EarlyMS: big.NewRat(w[0], 1), LateMS: big.NewRat(w[1], 1)}
	if m.IntN(3) == 0 {
		d.SoundControls = []string{m.control(plan.Sound)}
	}
	if m.IntN(8) == 0 {
		d.PictureControls = []string{m.control(plan.Picture)}
	}
	m.p.Destinations = append(m.p.Destinations, d)
}

func (m *maker) pairs() {
	spread := pick(m, 5, 15, 30, 60, 150)
	from := m.IntN(80)
	for _, d := range m.p.Destinations {
		for _, picture := range m.p.Chains {
			for _, sound := range m.p.Chains {
				if picture.Signal != plan.Picture || sound.Signal != plan.Sound || m.IntN(12) == 0 {
					continue
				}
				p := plan.Pair{
					Picture: picture.Slug, Sound: sound.Slug, Destination: d.Slug, LocationMS: m.ms(from, from+spread),
					Importance: pick(m, plan.Hard, plan.Hard, plan.Hard, plan.Hard, plan.Soft),
					Law:        law.Law{A: pick(m, 0, 0, 8, 1001.0/60), S: 1 + 8*m.Float64()*m.Float64(), Q: 1.05},
				}
				if m.even {
					p.LocationMS, p.Law = big.NewRat(int64(10*(m.IntN(12)-3)), 1), law.Law{S: 2}
				}
				if m.IntN(15) == 0 {
					p.Importance = plan.Ignore
				}
				if m.IntN(25) == 0 {
					p.LocationMS = nil
				}
				if m.IntN(80) == 0 {
					p.LocationMS = m.ms(400, 900)
				}
				m.p.Pairs = append(m.p.Pairs, p)
			}
		}
	}
}

package plan_test

import (
	"math"
	"math/big"
	"slices"

	"delaybook/domain/plan"
)

// naive tries every setting of a rig and keeps the best by reading the objective of the package
// documentation word by word. It shares nothing with the planner but the law.
type naive struct {
	p        plan.Problem
	target   int
	delays   [][]int64 // by control and grid index, ticks
	now      []int     // grid index, -1 off the grid, -2 not recorded
	pictures [][]int   // controls by pair
	sounds   [][]int
	settings []*setting // all that hold the feeds
	given    map[int]bool
	need     map[int]int
	joint    int
	feedMax  []int64
}

// A setting is a grid index for every control, and what it gives every pair.
type setting struct {
	at    []int
	after []int64
	level []int
}

func ticks(r *big.Rat) int64 {
	if r == nil {
		return 0
	}
	x := new(big.Rat).Mul(r, big.NewRat(plan.TicksPerMS, 1))
	f, _ := x.Float64()
	return int64(math.Round(f))
}

func newNaive(p plan.Problem) *naive {
	n := &naive{p: p, given: map[int]bool{}, need: map[int]int{}}
	t, _ := p.Target.Float64()
	n.target = int(math.Round(1000 * t))
	for _, c := range p.Controls {
		n.addControl(c)
	}
	for _, pr := range p.Pairs {
		n.pictures = append(n.pictures, n.path(pr.Picture, pr.Destination, plan.Picture))
		n.sounds = append(n.sounds, n.path(pr.Sound, pr.Destination, plan.Sound))
	}
	for f := range p.Feeds {
		least := int64(0)
		for _, c := range n.feedControls(f) {
			least += n.delays[c][0] - n.base(c)
		}
		n.feedMax = append(n.feedMax, max(least, ticks(p.Feeds[f].MaxAddedMS)))
	}
	n.enumerate()
	return n
}

func (n *naive) addControl(c plan.Control) {
	delay := func(v *big.Rat) int64 {
		d := ticks(new(big.Rat).Mul(v, c.UnitMS))
		if v.Sign() != 0 {
			d += ticks(c.EngagedMS)
		}
		return d
	}
	if c.Fixed {
		n.delays, n.now = append(n.delays, []int64{delay(c.Now)}), append(n.now, 0)
		return
	}
	now := -2
	if c.Now != nil {
		now = -1
	}
	var delays []int64
	for v := new(big.Rat).Set(c.Min); v.Cmp(c.Max) <= 0; v = new(big.Rat).Add(v, c.Step) {
		if c.Now != nil && c.Now.Cmp(v) == 0 {
			now = len(delays)
		}
		delays = append(delays, delay(v))
	}
	n.delays, n.now = append(n.delays, delays), append(n.now, now)
}

// base is the delay of a control at its minimum.
func (n *naive) base(c int) int64 {
	in := n.p.Controls[c]
	d := ticks(new(big.Rat).Mul(in.Min, in.UnitMS))
	if in.Min.Sign() != 0 {
		d += ticks(in.EngagedMS)
	}
	return d
}

func (n *naive) path(chain, destination string, signal plan.Signal) []int {
	var names []string
	for _, c := range n.p.Chains {
		if c.Slug == chain {
			names = append(names, c.Controls...)
		}
	}
	for _, d := range n.p.Destinations {
		if d.Slug == destination && signal == plan.Picture {
			names = append(names, d.PictureControls...)
		} else if d.Slug == destination {
			names = append(names, d.SoundControls...)
		}
	}
	return n.named(names)
}

func (n *naive) named(names []string) []int {
	var out []int
	for _, name := range names {
		out = append(out, slices.IndexFunc(n.p.Controls, func(c plan.Control) bool { return c.Name == name }))
	}
	return out
}

func (n *naive) feedControls(f int) []int {
	i := slices.IndexFunc(n.p.Chains, func(c plan.Chain) bool { return c.Slug == n.p.Feeds[f].Chain })
	return n.named(n.p.Chains[i].Controls)
}

func (n *naive) feedAdded(f int, at []int) int64 {
	sum := int64(0)
	for _, c := range n.feedControls(f) {
		sum += n.delays[c][at[c]] - n.base(c)
	}
	return sum
}

func (n *naive) enumerate() {
	levels := make([]map[int64]int, len(n.p.Pairs))
	for p := range levels {
		levels[p] = map[int64]int{}
	}
	at := make([]int, len(n.delays))
	for {
		holds := true
		for f := range n.p.Feeds {
			holds = holds && n.feedAdded(f, at) <= n.feedMax[f]
		}
		if holds {
			n.settings = append(n.settings, n.evaluate(slices.Clone(at), levels))
		}
		c := len(at) - 1
		for ; c >= 0; c-- {
			if at[c]++; at[c] < len(n.delays[c]) {
				break
			}
			at[c] = 0
		}
		if c < 0 {
			return
		}
	}
}

// evaluate works out what a setting gives; levels remembers by pair and offset.
func (n *naive) evaluate(at []int, levels []map[int64]int) *setting {
	s := &setting{at: at}
	for p := range n.p.Pairs {
		after := ticks(n.p.Pairs[p].LocationMS)
		for _, c := range n.pictures[p] {
			after += n.delays[c][at[c]]
		}
		for _, c := range n.sounds[p] {
			after -= n.delays[c][at[c]]
		}
		level, ok := levels[p][after]
		if !ok {
			level = n.levelAt(p, after, 0)
			levels[p][after] = level
		}
		s.after, s.level = append(s.after, after), append(s.level, level)
	}
	return s
}

// counts says whether a pair moves anything.
func (n *naive) counts(p int) bool {
	return n.p.Pairs[p].Importance != plan.Ignore && n.p.Pairs[p].LocationMS != nil
}

func (n *naive) kept(p int) bool {
	return n.counts(p) && n.p.Pairs[p].Importance == plan.Hard && !n.given[p]
}

func (n *naive) window(p int) (early, late int64) {
	i := slices.IndexFunc(n.p.Destinations, func(d plan.Destination) bool { return d.Slug == n.p.Pairs[p].Destination })
	return ticks(n.p.Destinations[i].EarlyMS), ticks(n.p.Destinations[i].LateMS)
}

// levelAt is the level at an offset with the window widened on both sides.
func (n *naive) levelAt(p int, after, widened int64) int {
	early, late := n.window(p)
	early, late = early+widened, late+widened
	l := n.p.Pairs[p].Law
	at := func(x int64) float64 { return l.CDF(float64(x) / plan.TicksPerMS) }
	level := int(math.Floor(1000*(at(early-after)-at(-late-after)) + 1e-7))
	if level < 1 {
		beyond := max(after-early, -late-after, 0)
		level = -int((beyond + plan.TicksPerMS - 1) / plan.TicksPerMS)
	}
	return level
}

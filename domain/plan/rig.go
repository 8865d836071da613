package plan

import (
	"math/big"

	"delaybook/domain/law"
)

// A rig is a checked Problem in ticks, with indexes for names.
type rig struct {
	target   int
	controls []control
	pairs    []pair
	feeds    []feed
	levels   *levelTable
}

type control struct {
	name     string
	signal   Signal
	unit     string
	fixed    bool
	grid     *grid
	ruler    ruler    // of a movable control
	min, inc *big.Rat // value of grid index k is min + k*inc, but for fixed controls, which have one
	base     int64    // delay at the minimum
	now      int      // grid index in force, -1: none recorded or off the grid
	recorded bool
}

// value is the dialled value at grid index k, in the control's units.
func (c *control) value(k int) *big.Rat {
	v := new(big.Rat).Mul(c.inc, new(big.Rat).SetInt64(int64(k)))
	return v.Add(v, c.min)
}

// changed says whether index k differs from what is recorded.
func (c *control) changed(k int) bool { return c.recorded && c.now != k }

// movable says whether a control has a choice. One that has not, ours or not, is fixed from the
// start: it counts on its paths but links no parts.
func (r *rig) movable(c int) bool { return len(r.controls[c].grid.vals) > 1 }

type pair struct {
	name           string
	role           Role
	unknown        bool  // no location, or a fixed control without a value on its paths
	picture, sound []int // controls on each path
	path           pathKey
	loc            int64
	early, late    int64
	law            law.Law
	half           float64
	class          int // in levelTable
	limit          string
}

// A pathKey tells the (chain, destination) paths of a pair apart.
type pathKey struct{ picture, sound, destination string }

// counts says whether the pair moves anything.
func (p *pair) counts() bool { return p.role != RoleIgnored && p.role != RoleUnknown }

type feed struct {
	slug     string
	controls []int
	max      int64 // what the plan holds it to: what is allowed, or what the fixed controls give
	allowed  int64
}

func (f *feed) held() bool { return f.max == f.allowed }

// after is the offset that remains at an assignment of grid indexes, ticks.
func (r *rig) after(p *pair, at []int) int64 {
	sum := p.loc
	for _, c := range p.picture {
		sum += r.controls[c].grid.vals[at[c]]
	}
	for _, c := range p.sound {
		sum -= r.controls[c].grid.vals[at[c]]
	}
	return sum
}

// level is the level of a pair at an assignment.
func (r *rig) level(p *pair, at []int) int {
	return r.levels.at(p.class, 2*r.after(p, at)-(p.early-p.late))
}

// band is the interval of delays (picture sum minus sound sum) with level at least want; it is
// empty (a > b) when there is none.
func (r *rig) band(p *pair, want int) (a, b int64) {
	radius := r.levels.radius(p.class, want)
	if radius < 0 {
		return 1, 0
	}
	center := p.early - p.late
	return ceilDiv(center-radius, 2) - p.loc, floorDiv(center+radius, 2) - p.loc
}

// added is what a feed gets over its controls' minima, ticks.
func (r *rig) added(f *feed, at []int) int64 {
	sum := int64(0)
	for _, c := range f.controls {
		sum += r.controls[c].grid.vals[at[c]] - r.controls[c].base
	}
	return sum
}

// least is the assignment with every control at its least delay.
func (r *rig) least() []int { return make([]int, len(r.controls)) }

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

func ceilDiv(a, b int64) int64 { return -floorDiv(-a, b) }

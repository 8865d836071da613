package plan

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"strings"
)

// A ChangeKind is what a crew may try on a rig whose plan does not reach the target.
type ChangeKind string

// The kinds, in the order a crew tries them: from a menu entry to a purchase.
const (
	LowDelayMode     ChangeKind = "low-delay-mode"     // a mode of a device with less delay
	LeaveOutStage    ChangeKind = "leave-out-stage"    // without a converter
	Genlock          ChangeKind = "genlock"            // a camera locked to the house: its phase is gone
	OutputDelay      ChangeKind = "output-delay"       // delay at an output instead of a channel
	DelayFastCameras ChangeKind = "delay-fast-cameras" // fast cameras delayed to the slowest
	MoreDelay        ChangeKind = "more-delay"         // a device of the catalogue that delays by what is missing
)

var changeOrder = []ChangeKind{LowDelayMode, LeaveOutStage, Genlock, OutputDelay, DelayFastCameras, MoreDelay}

// A Change is one candidate. Every part is optional; together they turn a problem into another.
type Change struct {
	Kind ChangeKind
	// Name says what is changed, in the caller's words: "cam-1 in its fast mode".
	Name string
	// Shifts move the locations (and laws) of pairs.
	Shifts []Shift
	// Adds put new controls on paths.
	Adds []AddedControl
	// Spare holds controls at their minimum: a channel delay that an output delay is to replace.
	Spare []string
}

// A Shift changes one pair.
type Shift struct {
	// Pair is the index into Problem.Pairs.
	Pair int
	// ByMS is added to the location, ms: negative when the picture path gets shorter. Nil is 0.
	ByMS *big.Rat
	// WithoutPhase takes the uniform part out of the pair's law: its picture source is genlocked.
	WithoutPhase bool
}

// An AddedControl is a new control on whole chains or on the tails of destinations.
type AddedControl struct {
	Control              Control
	Chains, Destinations []string
}

// An Alternative is the plan a change leads to.
type Alternative struct {
	Change Change
	Plan   Plan
	// Enough: every hard pair reaches the target.
	Enough bool
	// Text sums it up in one sentence.
	Text string
}

// Alternatives works the plan out again under each change alone, in the order a crew tries them
// (changes of one kind in the order given). The error is a *Refusal of the changed problem.
func Alternatives(p Problem, changes []Change, b Budget) ([]Alternative, error) {
	changes = slices.Clone(changes)
	slices.SortStableFunc(changes, func(x, y Change) int {
		return slices.Index(changeOrder, x.Kind) - slices.Index(changeOrder, y.Kind)
	})
	var out []Alternative
	for _, c := range changes {
		changed, err := c.apply(p)
		if err != nil {
			return nil, err
		}
		got, err := Solve(changed, b)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.Name, err)
		}
		a := Alternative{Change: c, Plan: got, Enough: got.State != Unknown && len(got.Conflict) == 0 && feedsHeld(got)}
		a.Text = a.sentence(changed)
		out = append(out, a)
	}
	return out, nil
}

func feedsHeld(p Plan) bool {
	return !slices.ContainsFunc(p.Feeds, func(f FeedResult) bool { return !f.Held })
}

// apply is the changed problem; the given one is left as it is.
func (c Change) apply(p Problem) (Problem, error) {
	p.Pairs, p.Controls = slices.Clone(p.Pairs), slices.Clone(p.Controls)
	p.Chains, p.Destinations = slices.Clone(p.Chains), slices.Clone(p.Destinations)
	if !slices.Contains(changeOrder, c.Kind) {
		return p, &Refusal{[]Field{{"/changes", fmt.Sprintf("%q is not a kind of change", c.Kind), "one of the kinds the planner lists"}}}
	}
	for _, s := range c.Shifts {
		if s.Pair < 0 || s.Pair >= len(p.Pairs) {
			return p, &Refusal{[]Field{{"/changes", fmt.Sprintf("%s: there is no pair %d", c.Name, s.Pair), "the index of a pair of the problem"}}}
		}
		pair := &p.Pairs[s.Pair]
		if pair.LocationMS != nil {
			pair.LocationMS = new(big.Rat).Add(pair.LocationMS, orZero(s.ByMS))
		}
		if s.WithoutPhase {
			pair.Law.A = 0
		}
	}
	for _, name := range c.Spare {
		i := slices.IndexFunc(p.Controls, func(x Control) bool { return x.Name == name })
		if i < 0 {
			return p, &Refusal{[]Field{{"/changes", fmt.Sprintf("%s: no control is called %q", c.Name, name), "the name of a control of the problem"}}}
		}
		p.Controls[i].Max = orZero(p.Controls[i].Min)
	}
	for _, a := range c.Adds {
		p.Controls = append(p.Controls, a.Control)
		addToPaths(&p, a)
	}
	return p, nil
}

func addToPaths(p *Problem, a AddedControl) {
	for i := range p.Chains {
		if slices.Contains(a.Chains, p.Chains[i].Slug) {
			p.Chains[i].Controls = append(slices.Clone(p.Chains[i].Controls), a.Control.Name)
		}
	}
	for i := range p.Destinations {
		d := &p.Destinations[i]
		switch {
		case !slices.Contains(a.Destinations, d.Slug):
		case a.Control.Signal == Picture:
			d.PictureControls = append(slices.Clone(d.PictureControls), a.Control.Name)
		default:
			d.SoundControls = append(slices.Clone(d.SoundControls), a.Control.Name)
		}
	}
}

// sentence says whether the change is enough, and what would then be set.
func (a Alternative) sentence(p Problem) string {
	if !a.Enough {
		if h := a.Plan.Vector.SmallestHard; h != nil && len(a.Plan.GivenUp) == 0 {
			return fmt.Sprintf("%s is not enough alone: the least chance would be %.3f.", a.Change.Name, float64(max(*h, 0))/1000)
		}
		return fmt.Sprintf("%s is not enough alone.", a.Change.Name)
	}
	var sets []string
	for i, s := range a.Plan.Settings {
		if s.Fixed || s.MS == 0 {
			continue
		}
		c := control{unit: p.Controls[i].Unit, min: s.Value, inc: new(big.Rat)}
		sets = append(sets, s.Control+" "+c.sayValue(0))
	}
	if len(sets) == 0 {
		return fmt.Sprintf("%s is enough, with every delay at its minimum.", a.Change.Name)
	}
	return fmt.Sprintf("%s is enough, with %s.", a.Change.Name, strings.Join(sets, ", "))
}

// Purchases are the changes that add what a plan says is missing: for every control that runs out, a
// delay in steps of 1 ms beside it, as long as what is missing rounded up to a whole ms.
func Purchases(p Problem, found Plan) []Change {
	var out []Change
	for _, b := range found.Bottlenecks {
		i := slices.IndexFunc(p.Controls, func(c Control) bool { return c.Name == b.Name })
		if b.Kind != ControlRange || i < 0 {
			continue
		}
		most := int64(math.Ceil(b.MissingMS - 1e-6))
		name := freeName(p, b.Name+"-more")
		add := AddedControl{Control: Control{Name: name, Signal: p.Controls[i].Signal, Unit: "ms", UnitMS: big.NewRat(1, 1), Max: big.NewRat(most, 1)}}
		for _, c := range p.Chains {
			if slices.Contains(c.Controls, b.Name) {
				add.Chains = append(add.Chains, c.Slug)
			}
		}
		for _, d := range p.Destinations {
			if slices.Contains(d.PictureControls, b.Name) || slices.Contains(d.SoundControls, b.Name) {
				add.Destinations = append(add.Destinations, d.Slug)
			}
		}
		out = append(out, Change{
			Kind: MoreDelay, Name: fmt.Sprintf("a device with at least %d ms more delay beside %s", most, b.Name), Adds: []AddedControl{add},
		})
	}
	return out
}

// freeName is a control name that is not taken.
func freeName(p Problem, name string) string {
	for slices.ContainsFunc(p.Controls, func(c Control) bool { return c.Name == name }) {
		name += "-2"
	}
	return name
}

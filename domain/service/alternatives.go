package service

import (
	"fmt"
	"math/big"
	"slices"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/estimate"
	"delaybook/domain/plan"
)

// alternatives works out what a crew may try on a rig whose plan does not reach
// the target: a mode with less delay, a stage left out, genlock, another delay
// that its devices have, delaying the fast cameras, a device with more delay.
func (s *Service) alternatives(
	b *book.Book, rig *book.Rig, solution *estimate.Solution, problem plan.Problem, found plan.Plan,
) ([]plan.Alternative, error) {
	if found.State != plan.Infeasible {
		return nil, nil
	}
	t := trial{book: b, rig: rig, layout: &rig.Current().Layout, solution: solution, names: deviceNames(b), problem: problem}
	for i := range t.layout.Chains {
		if c := &t.layout.Chains[i]; c.Signal == domain.Picture {
			t.changePicture(c)
		}
	}
	t.unusedDelays()
	t.fastCameras()
	changes := append(t.changes, t.purchases(found)...)
	return plan.Alternatives(problem, changes, s.planBudget())
}

// A trial gathers the changes that a rig could have.
type trial struct {
	book     *book.Book
	rig      *book.Rig
	layout   *domain.Layout
	solution *estimate.Solution
	names    map[domain.DeviceID]string
	problem  plan.Problem
	changes  []plan.Change
}

// leftOut are the kinds of devices that a chain may do without.
var leftOut = []domain.Kind{"converter", "scaler", "frame store"}

// changePicture tries other modes, leaving stages out and genlock on a chain.
func (t *trial) changePicture(c *domain.Chain) {
	for i, stage := range c.Stages {
		d, _ := t.book.Device(stage.Device)
		m, _ := d.ModeByID(stage.Mode)
		now, known := t.latency(d, m)
		if known {
			t.otherModes(c, d, m, now)
		}
		if known && slices.Contains(leftOut, d.Kind) && now > 0 {
			t.shift(plan.LeaveOutStage, fmt.Sprintf("%s without %s", c.Slug, d.Slug), c, -now, false)
		}
		if stage.Timing == domain.Free && !m.IsDirect(domain.Picture) {
			name := fmt.Sprintf("%s genlocked at %s", c.Slug, d.Slug)
			t.shift(plan.Genlock, name, c, -t.retimed(c, i)/2, true)
		}
	}
}

// retimed is the frame, in ms, to which stage i of a chain is re-timed.
func (t *trial) retimed(c *domain.Chain, i int) float64 {
	rate := t.layout.FrameRate
	if i+1 < len(c.Stages) {
		d, _ := t.book.Device(c.Stages[i+1].Device)
		if m, ok := d.ModeByID(c.Stages[i+1].Mode); ok && !m.FrameRate.IsZero() {
			rate = m.FrameRate
		}
	}
	return rate.FrameMS()
}

func (t *trial) otherModes(c *domain.Chain, d *domain.Device, m *domain.Mode, now float64) {
	for i := range d.Modes {
		other := &d.Modes[i]
		if other.ID == m.ID || other.Retired || other.FrameRate != m.FrameRate {
			continue
		}
		if ms, ok := t.latency(d, other); ok && ms < now {
			t.shift(plan.LowDelayMode, fmt.Sprintf("%s with %s in mode %s", c.Slug, d.Slug, other.Slug), c, ms-now, false)
		}
	}
}

// latency is the picture latency of a mode, if the book determines it.
func (t *trial) latency(d *domain.Device, m *domain.Mode) (float64, bool) {
	l, err := t.solution.Latency(estimate.LatencyQuery{Device: t.names[d.ID], Mode: string(m.Slug), Signal: estimate.Picture})
	switch {
	case err != nil || !l.Determined:
		return 0, false
	case l.Direct:
		return 0, true
	}
	return l.Estimate.ValueMS, true
}

// shift adds a change that moves every pair of a chain.
func (t *trial) shift(kind plan.ChangeKind, name string, c *domain.Chain, byMS float64, genlock bool) {
	change := plan.Change{Kind: kind, Name: name}
	for i, p := range t.problem.Pairs {
		if p.Picture == string(c.Slug) {
			change.Shifts = append(change.Shifts, plan.Shift{Pair: i, ByMS: plan.RatMS(byMS), WithoutPhase: genlock})
		}
	}
	if len(change.Shifts) > 0 {
		t.changes = append(t.changes, change)
	}
}

// unusedDelays tries the delays that devices of the sound chains have and the
// rig does not use: often the output has one beside the channel.
func (t *trial) unusedDelays() {
	for i := range t.layout.Chains {
		c := &t.layout.Chains[i]
		if c.Signal != domain.Sound {
			continue
		}
		for _, stage := range c.Stages {
			d, _ := t.book.Device(stage.Device)
			for k := range d.Controls {
				control := &d.Controls[k]
				if control.Signal == domain.Sound && !control.Retired && control.Ours && !t.placed(control.ID) {
					t.add(plan.OutputDelay, fmt.Sprintf("%s of %s on %s", control.Slug, d.Slug, c.Slug), c.Slug, plan.Control{
						Name: string(c.Slug) + "." + string(control.Slug), Signal: plan.Sound, Unit: string(control.Unit),
						UnitMS: unitMS(control, t.layout.FrameRate), Step: control.Step.Rat(), Min: control.Min.Rat(), Max: control.Max.Rat(),
						EngagedMS: plan.RatMS(control.EngagedMS),
					})
				}
			}
		}
	}
}

func (t *trial) placed(id domain.ControlID) bool {
	return slices.ContainsFunc(t.layout.Controls(), func(p domain.PlacedControl) bool { return p.Use.Control == id })
}

func (t *trial) add(kind plan.ChangeKind, name string, chain domain.Slug, c plan.Control) {
	t.changes = append(t.changes, plan.Change{
		Kind: kind, Name: name, Adds: []plan.AddedControl{{Control: c, Chains: []string{string(chain)}}},
	})
}

// fastCameraFrames is how many frames of delay a camera may be given to match a
// slower one: what a small frame store has.
const fastCameraFrames = 8

// fastCameras tries a picture delay on every camera but the slowest.
func (t *trial) fastCameras() {
	slowest, most := "", new(big.Rat)
	var cameras []string
	for _, p := range t.problem.Pairs {
		if p.LocationMS == nil {
			continue
		}
		if !slices.Contains(cameras, p.Picture) {
			cameras = append(cameras, p.Picture)
		}
		if slowest == "" || p.LocationMS.Cmp(most) > 0 {
			slowest, most = p.Picture, p.LocationMS
		}
	}
	change := plan.Change{Kind: plan.DelayFastCameras, Name: "delaying the cameras that are faster than " + slowest}
	for _, camera := range cameras {
		if camera == slowest || camera == string(domain.LiveChain) {
			continue
		}
		change.Adds = append(change.Adds, plan.AddedControl{Chains: []string{camera}, Control: plan.Control{
			Name: camera + ".picture-delay", Signal: plan.Picture, Unit: "frame",
			UnitMS: t.layout.FrameRate.SpanRat(big.NewRat(1, 1)), Max: big.NewRat(fastCameraFrames, 1),
		}})
	}
	if len(change.Adds) > 0 {
		t.changes = append(t.changes, change)
	}
}

// purchases names devices of the catalogue that delay by what is missing.
func (t *trial) purchases(found plan.Plan) []plan.Change {
	changes := plan.Purchases(t.problem, found)
	for i := range changes {
		for _, d := range t.book.Devices() {
			if !d.Retired && t.delaysBy(d, &changes[i]) {
				changes[i].Name += fmt.Sprintf(" (%s of the catalogue has it)", d.Slug)
				break
			}
		}
	}
	return changes
}

func (t *trial) delaysBy(d *domain.Device, change *plan.Change) bool {
	if len(change.Adds) == 0 {
		return false
	}
	want := change.Adds[0].Control
	needs := new(big.Rat).Mul(want.UnitMS, want.Max)
	return slices.ContainsFunc(d.Controls, func(c domain.Control) bool {
		has := new(big.Rat).Mul(unitMS(&c, t.layout.FrameRate), c.Max.Rat())
		return !c.Retired && plan.Signal(c.Signal) == want.Signal && has.Cmp(needs) >= 0
	})
}

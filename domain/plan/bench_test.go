package plan_test

import (
	"fmt"
	"math/big"
	"math/rand/v2"
	"testing"
	"time"

	"delaybook/domain/law"
	"delaybook/domain/plan"
)

// A benchRig is a rig of cameras and microphones, every camera and microphone with a control of its
// own, every pair compared, and sound controls that all microphones share.
type benchRig struct {
	cameras, microphones, shared int
	unit, step, pictureMax, max  *big.Rat
}

func (b benchRig) problem(seed uint64) plan.Problem {
	rng := rand.New(rand.NewPCG(seed, 5))
	p := plan.Problem{Destinations: []plan.Destination{{Slug: "programme", EarlyMS: big.NewRat(45, 1), LateMS: big.NewRat(125, 1)}}}
	control := func(name string, signal plan.Signal, largest *big.Rat) string {
		p.Controls = append(p.Controls, plan.Control{Name: name, Signal: signal, UnitMS: b.unit, Step: b.step, Max: largest})
		return name
	}
	var all []string
	for i := range b.shared {
		all = append(all, control(fmt.Sprintf("shared-%d", i), plan.Sound, b.max))
	}
	for i := range b.cameras {
		p.Chains = append(p.Chains, plan.Chain{
			Slug: fmt.Sprintf("cam-%d", i), Signal: plan.Picture, Controls: []string{control(fmt.Sprintf("pic-%d", i), plan.Picture, b.pictureMax)},
		})
	}
	sound := make([]float64, b.microphones)
	for i := range sound {
		sound[i] = 30 * rng.Float64()
		own := append([]string{control(fmt.Sprintf("snd-%d", i), plan.Sound, b.max)}, all...)
		p.Chains = append(p.Chains, plan.Chain{Slug: fmt.Sprintf("mic-%d", i), Signal: plan.Sound, Controls: own})
	}
	for i := range b.cameras {
		picture := 100 + 180*rng.Float64()
		for j := range b.microphones {
			p.Pairs = append(p.Pairs, plan.Pair{
				Picture: fmt.Sprintf("cam-%d", i), Sound: fmt.Sprintf("mic-%d", j), Destination: "programme",
				LocationMS: plan.RatMS(picture - sound[j]), Law: law.Law{A: 8 + rng.Float64(), S: 2 + 2*rng.Float64(), Q: 1.05},
			})
		}
	}
	return p
}

var benchRigs = map[string]struct {
	rig  benchRig
	goal time.Duration
}{
	"8x8-frames":    {benchRig{8, 8, 0, big.NewRat(1001, 30), big.NewRat(1, 1), big.NewRat(8, 1), big.NewRat(30, 1)}, 5 * time.Millisecond},
	"8x8-ms":        {benchRig{8, 8, 0, big.NewRat(1, 1), big.NewRat(1, 10), big.NewRat(999, 1), big.NewRat(999, 1)}, 10 * time.Millisecond},
	"32x64-ms":      {benchRig{32, 64, 0, big.NewRat(1, 1), big.NewRat(1, 10), big.NewRat(999, 1), big.NewRat(999, 1)}, 150 * time.Millisecond},
	"8x16-1-shared": {benchRig{8, 16, 1, big.NewRat(1, 1), big.NewRat(1, 10), big.NewRat(999, 1), big.NewRat(999, 1)}, 200 * time.Millisecond},
	"8x16-2-shared": {benchRig{8, 16, 2, big.NewRat(1, 1), big.NewRat(1, 10), big.NewRat(999, 1), big.NewRat(999, 1)}, 200 * time.Millisecond},
	"8x16-3-shared": {benchRig{8, 16, 3, big.NewRat(1, 1), big.NewRat(1, 10), big.NewRat(999, 1), big.NewRat(999, 1)}, 200 * time.Millisecond},
}

// BenchmarkSolve also reports the time as a share of what each size may take.
func BenchmarkSolve(b *testing.B) {
	for name, c := range benchRigs {
		b.Run(name, func(b *testing.B) {
			problem := c.rig.problem(1)
			for b.Loop() {
				if _, err := plan.Solve(problem, plan.Budget{}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(c.goal), "of-goal")
		})
	}
}

package plan_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"delaybook/domain/law"
	"delaybook/domain/plan"
)

// An offset of 330 ms with frames 0 to 8 lacks one frame. Each way out is worked out again, in the
// order a crew tries them, whatever the order they were given in.
func TestAlternatives(t *testing.T) {
	t.Parallel()
	p := simple(ms("330"), ms("40"), ms("60"), law.Law{A: 8, S: 3, Q: 1.05})
	found := solve(t, p)
	if found.State != plan.Infeasible {
		t.Fatalf("state %s", found.State)
	}
	changes := append(plan.Purchases(p, found),
		plan.Change{Kind: plan.OutputDelay, Name: "an output delay", Spare: []string{"lectern-delay"}, Adds: []plan.AddedControl{{
			Control:      plan.Control{Name: "out", Signal: plan.Sound, Unit: "ms", UnitMS: ms("1"), Max: ms("500")},
			Destinations: []string{"programme"},
		}}},
		plan.Change{Kind: plan.Genlock, Name: "genlock", Shifts: []plan.Shift{{Pair: 0, ByMS: ms("-10"), WithoutPhase: true}}},
		plan.Change{Kind: plan.LowDelayMode, Name: "the fast mode", Shifts: []plan.Shift{{Pair: 0, ByMS: ms("-60")}}},
	)
	got, err := plan.Alternatives(p, changes, plan.Budget{})
	if err != nil {
		t.Fatal(err)
	}
	want := []struct {
		kind   plan.ChangeKind
		enough bool
		says   string
	}{
		{plan.LowDelayMode, true, "lectern-delay 8 frames"},
		{plan.Genlock, false, "not enough"},
		{plan.OutputDelay, true, "out 330 ms"},
		{plan.MoreDelay, true, "lectern-delay-more"},
	}
	for i, w := range want {
		if a := got[i]; a.Change.Kind != w.kind || a.Enough != w.enough || !strings.Contains(a.Text, w.says) {
			t.Errorf("%d: %s enough %v: %s", i, a.Change.Kind, a.Enough, a.Text)
		}
	}
	if p.Controls[0].Max.Cmp(ms("8")) != 0 || p.Pairs[0].Law.A != 8 || len(p.Destinations[0].SoundControls) != 0 {
		t.Error("the given problem was changed")
	}
}

// A fast camera that is delayed brings both cameras into one window.
func TestDelayFastCameras(t *testing.T) {
	t.Parallel()
	p := simple(ms("250"), ms("15"), ms("45"), law.Law{S: 3, Q: 1.05})
	p.Chains = append(p.Chains, plan.Chain{Slug: "cam-2", Signal: plan.Picture})
	p.Pairs = append(p.Pairs, plan.Pair{Picture: "cam-2", Sound: "lectern", Destination: "programme", LocationMS: ms("150"), Law: law.Law{S: 3, Q: 1.05}})
	got, err := plan.Alternatives(p, []plan.Change{{Kind: plan.DelayFastCameras, Name: "a delay on cam-2", Adds: []plan.AddedControl{{
		Control: plan.Control{Name: "cam-2-delay", Signal: plan.Picture, Unit: "frame", UnitMS: ms("1001/30"), Max: ms("8")}, Chains: []string{"cam-2"},
	}}}}, plan.Budget{})
	if err != nil || !got[0].Enough || !strings.Contains(got[0].Text, "cam-2-delay") {
		t.Errorf("%v %+v", err, got)
	}
}

// Every purchase that a bottleneck suggests can be worked out, and the control's own missing steps are
// within what it adds.
func TestPurchasesOfRandomRigs(t *testing.T) {
	t.Parallel()
	enough, all := 0, 0
	for seed := uint64(80_000); seed < 80_150; seed++ {
		p := randomRigUpTo(seed, 200)
		got, err := plan.Alternatives(p, plan.Purchases(p, solve(t, p)), plan.Budget{})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		for _, a := range got {
			all++
			if a.Enough {
				enough++
			}
		}
	}
	if all < 10 || enough < all*9/10 {
		t.Errorf("%d of %d purchases were enough", enough, all)
	}
}

func TestChangeRefusal(t *testing.T) {
	t.Parallel()
	p := simple(ms("330"), ms("40"), ms("60"), law.Law{S: 3})
	for _, c := range []plan.Change{
		{Kind: "prayer"},
		{Kind: plan.Genlock, Shifts: []plan.Shift{{Pair: 1}}},
		{Kind: plan.OutputDelay, Spare: []string{"nobody"}},
		{Kind: plan.OutputDelay, Adds: []plan.AddedControl{{Control: plan.Control{Name: "out", Signal: plan.Sound}}}},
	} {
		var refused *plan.Refusal
		if _, err := plan.Alternatives(p, []plan.Change{c}, plan.Budget{}); !errors.As(err, &refused) {
			t.Errorf("%+v: got %v", c, err)
		}
	}
}

// The sum of two equal sines dt apart vanishes at the notches and only there: the gain is computed
// from the samples themselves. One ms apart: 500, 1500 and 2500 Hz (handbook example, from memory).
func TestNotchesCancel(t *testing.T) {
	t.Parallel()
	for _, apart := range []float64{0.1, 1, -2.5, 13.7} {
		gain := func(hz float64) float64 {
			largest := 0.0
			for i := range 2000 {
				x := 2 * math.Pi * float64(i) / 2000
				largest = max(largest, math.Abs(math.Sin(x)+math.Sin(x+2*math.Pi*hz*apart/1000)))
			}
			return largest
		}
		for _, hz := range plan.Notches(apart) {
			if gain(hz) > 1e-9 || gain(hz*1.05) < 0.05 {
				t.Errorf("%v ms: gain %v at %v Hz", apart, gain(hz), hz)
			}
		}
	}
	if got := plan.Notches(1); !slices.Equal(got[:], []float64{500, 1500, 2500}) {
		t.Errorf("1 ms: %v", got)
	}
	if plan.Notches(0) != [3]float64{} {
		t.Error("copies that are together have no notch")
	}
}

func TestAlignCopies(t *testing.T) {
	t.Parallel()
	delay := func(name string) plan.Control {
		return plan.Control{Name: name, Signal: plan.Sound, Unit: "sample", UnitMS: ms("1/48"), Max: ms("4800"), Now: ms("0")}
	}
	desk, camera := plan.Copy{Name: "desk", Controls: []plan.Control{delay("desk-delay")}}, plan.Copy{Name: "camera", Controls: []plan.Control{delay("camera-delay")}}
	got, err := plan.AlignCopies(desk, camera, ms("-2.505"), plan.Budget{})
	if err != nil {
		t.Fatal(err)
	}
	// 2.505 ms at 48 kHz are 120.24 samples.
	if len(got.Settings) != 1 || got.Settings[0].Control != "desk-delay" || got.Settings[0].ValueText() != "120" ||
		math.Abs(got.LeftMS+0.005) > 1e-6 || math.Abs(got.NotchesHz[0]-1000/5.01) > 1e-9 || !strings.Contains(got.Text, "desk-delay 120 samples") {
		t.Errorf("%+v", got)
	}
	got, err = plan.AlignCopies(desk, camera, ms("40"), plan.Budget{})
	if err != nil || got.Settings[0].Control != "camera-delay" || got.Settings[0].ValueText() != "1920" || got.LeftMS != 0 || !strings.Contains(got.Text, "echo") {
		t.Errorf("%v %+v", err, got)
	}
	if _, err := plan.AlignCopies(desk, camera, nil, plan.Budget{}); err == nil {
		t.Error("an unknown offset cannot be aligned")
	}
}

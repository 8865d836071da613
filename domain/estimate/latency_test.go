package estimate_test

import (
	"math"
	"slices"
	"testing"

	"delaybook/domain/estimate"

	"github.com/google/go-cmp/cmp"
)

func latency(tb testing.TB, s *estimate.Solution, device, mode string, signal estimate.Signal) estimate.Latency {
	tb.Helper()
	l, err := s.Latency(estimate.LatencyQuery{Device: device, Mode: mode, Signal: signal})
	if err != nil {
		tb.Fatal(err)
	}
	return l
}

func TestLatencyThatIsDetermined(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.HouseTiming)
	exact := clip("m", "mic-1", "wire", "p", 5, 2)
	exact.Method, exact.CardSource, exact.Settings = estimate.Tracks, "", []estimate.Setting{{Control: "mic-1-delay"}}
	b.Measurements = []estimate.Measurement{exact}
	b = known(t, b)
	s := solve(t, b)
	l := latency(t, s, "mic", "m", estimate.Sound)
	if !l.Determined || l.OnlyWith != nil || l.Advice != "" || len(l.Measurements) != 1 || l.Rigs != 1 {
		t.Fatalf("%+v", l)
	}
	near(t, "latency", l.Estimate.ValueMS, 5, 1e-9)
	near(t, "variance", l.Estimate.SEMS*l.Estimate.SEMS, 4+1, slack)
	near(t, "a new unit", l.Next.SEMS*l.Next.SEMS-l.Estimate.SEMS*l.Estimate.SEMS, 1, slack) // a power-up and no spread of units
	for i := range b.Variances {
		if b.Variances[i].Class == "unit.microphone" {
			b.Variances[i].MS2 = 9
		}
	}
	l = latency(t, solve(t, b), "mic", "m", estimate.Sound)
	near(t, "a new unit of a model that spreads", l.Next.SEMS*l.Next.SEMS-l.Estimate.SEMS*l.Estimate.SEMS, 1+9, 1e-5)
	if !latency(t, s, "wire", "m", estimate.Sound).Direct {
		t.Errorf("a direct signal is not direct")
	}
	b.Measurements[0].Readings[0].OffsetMS = ptr(-50)
	if l = latency(t, solve(t, b), "mic", "m", estimate.Sound); !slices.Contains(l.Flags, estimate.FlagNegative) {
		t.Errorf("flags %v of %v ms", l.Flags, l.Estimate.ValueMS)
	}
}

func TestLatencyThatIsKnownInACombination(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.HouseTiming)
	m := clap("m", "cam-1", "wire", "p", 3)
	b.Measurements = []estimate.Measurement{m}
	s := solve(t, known(t, b))
	l := latency(t, s, "camera", "p25", estimate.Picture)
	want := []estimate.Term{{Coef: 1, Device: "switcher", Mode: "m", Signal: estimate.Picture}}
	if l.Determined || l.Estimate != nil || l.Next != nil || l.Advice == "" {
		t.Errorf("%+v", l)
	}
	if diff := cmp.Diff(want, l.OnlyWith); diff != "" {
		t.Errorf("only with: %s", diff)
	}
	near(t, "sum", l.Combination.ValueMS, 120, 1e-9)
	near(t, "lower bound", l.Bounds[0], 0, 0)
	near(t, "upper bound", l.Bounds[1], 120+2*l.Combination.SEMS, 1e-9)

	// A stated value of the one determines the other.
	b.Stated = []estimate.Stated{{ID: "s", Device: "switcher", Mode: "m", Signal: estimate.Picture, ValueMS: 40, HalfWidthMS: 3}}
	l = latency(t, solve(t, known(t, b)), "camera", "p25", estimate.Picture)
	near(t, "latency", l.Estimate.ValueMS, 80, 1e-9)
	near(t, "variance", l.Estimate.SEMS*l.Estimate.SEMS, frame*frame/6+1+3, 1e-5)

	// Picture minus sound alone fixes no latency, only their difference.
	b.Stated, b.Measurements[0].Second = nil, "mic-2"
	l = latency(t, solve(t, known(t, b)), "mic", "m", estimate.Sound)
	if l.Determined || l.Bounds != nil || len(l.OnlyWith) != 2 {
		t.Errorf("%+v", l)
	}
	if l = latency(t, solve(t, b), "scaler", "m", estimate.Picture); l.Determined || l.Combination != nil || l.Advice == "" {
		t.Errorf("never measured: %+v", l)
	}
}

func TestLatencyQueriesThatNameNothing(t *testing.T) {
	t.Parallel()
	s := solve(t, hall(t, estimate.HouseTiming))
	for _, q := range []estimate.LatencyQuery{{Device: "no", Mode: "m", Signal: estimate.Sound}, {Device: "mic", Mode: "no", Signal: estimate.Sound}, {Device: "mic", Mode: "m"}} {
		if _, err := s.Latency(q); err == nil {
			t.Errorf("%v was answered", q)
		}
	}
}

// Without a measurement of a mode, one of another mode of the device gives a
// range: the same in ms, or the same in frames.
func TestAssumedRange(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.HouseTiming)
	b.Measurements = []estimate.Measurement{clap("m", "cam-1", "wire", "p", 3), clap("n", "cam-1", "mic-2", "p", 1)}
	b.Stated = []estimate.Stated{{ID: "s", Device: "switcher", Mode: "m", Signal: estimate.Picture, ValueMS: 40, UMS: 1}}
	s := solve(t, b)
	o := offset(t, s, "cam-2", "mic-2")
	if o.Basis != estimate.BasisAssumed || o.Estimate != nil || o.Next != nil || !slices.Equal(o.Missing, []string{"camera/p50/picture"}) {
		t.Fatalf("%+v", o)
	}
	measured := offset(t, s, "cam-1", "mic-2")
	camera := latency(t, s, "camera", "p25", estimate.Picture)
	half := math.Abs(measured.Estimate.Interval[1] - measured.Estimate.ValueMS)
	near(t, "the same in ms", o.Assumed.HighMS, measured.Estimate.ValueMS+half, 1)
	// Only the camera's own delay halves at 50 frames a second.
	near(t, "the same in frames", o.Assumed.LowMS, measured.Estimate.ValueMS-camera.Estimate.ValueMS/2-half, 1)
	if o.Assumed.Device != "camera" || o.Assumed.Mode != "p50" || o.Assumed.From != "p25" {
		t.Errorf("%+v", o.Assumed)
	}
}

package estimate_test

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"delaybook/domain/estimate"
)

// known fixes the variances of a book, as if a billion measurements had fitted
// them: the square of a standard error is then the plain variance.
func known(tb testing.TB, b estimate.Book) estimate.Book {
	tb.Helper()
	b.Variances = solve(tb, b).Variances()
	for i := range b.Variances {
		b.Variances[i].MS2, b.Variances[i].NuPrior = 1, 1e9
		if b.Variances[i].Class[:5] == "unit." {
			b.Variances[i].MS2 = 1e-9
		}
	}
	return b
}

// variance returns the variances of cam-1 against a sound, and for the next power-up.
func variances(tb testing.TB, b estimate.Book, second string) (value, variance, next float64) {
	tb.Helper()
	o := offset(tb, solve(tb, known(tb, b)), "cam-1", second)
	if o.Estimate == nil {
		tb.Fatalf("undetermined: %s", o.Why)
	}
	return o.Estimate.ValueMS, o.Estimate.SEMS * o.Estimate.SEMS, o.Next.SEMS * o.Next.SEMS
}

const slack = 1e-6 // of the variances of units, ms^2

// One power-up has its scatter of 1 ms, whatever was read in it.
func TestVarianceOfOneMeasurement(t *testing.T) {
	t.Parallel()
	const t2 = frame * frame
	eye := func(rule estimate.EyeRule, frames ...float64) estimate.Measurement {
		m := clap("m", "cam-1", "mic-2", "p", frames...)
		m.Eye = rule
		return m
	}
	list := clip("m", "cam-1", "mic-2", "p", 0, 1)
	list.CardSource, list.Method, list.Readings = "", estimate.Clap, nil
	for _, u := range []float64{1, 2} {
		list.Readings = append(list.Readings, estimate.Reading{OffsetMS: ptr(80), UMS: ptr(u)})
	}
	card := clip("m", "cam-1", "mic-2", "p", 80, 2)
	far := eye(estimate.BothSides, 2)
	far.DistanceM, far.AirC = ptr(100), nil
	airMS := 100 / 343.2 * 1000
	airVariance := math.Pow(airMS*5/(math.Sqrt(3)*2*293.15), 2)
	for name, c := range map[string]struct {
		timing          estimate.Timing
		m               estimate.Measurement
		value, variance float64
	}{
		"both sides":            {estimate.HouseTiming, eye(estimate.BothSides, 2), 80, t2/6 + 1},
		"one side":              {estimate.HouseTiming, eye(estimate.OneSide, 2), 80, t2/12 + 1},
		"sides not said":        {estimate.HouseTiming, eye("", 2), 80, t2/6 + 1},
		"five equal readings":   {estimate.HouseTiming, eye(estimate.BothSides, 2, 2, 2, 2, 2), 80, t2/6 + 1},
		"readings disagree":     {estimate.HouseTiming, eye(estimate.BothSides, 1, 3), 80, t2/6 + 1 + 2*t2/2},
		"a frame apart":         {estimate.HouseTiming, eye(estimate.BothSides, 1.5, 2.5), 80, t2/6 + 1},
		"free, both sides":      {estimate.FreeTiming, eye(estimate.BothSides, 2), 80, t2/6 + t2/12 + 1},
		"free, one side":        {estimate.FreeTiming, eye(estimate.OneSide, 2), 80, t2/12 + t2/12 + 1},
		"weighted":              {estimate.HouseTiming, list, 80, 1/(1+0.25) + 1},
		"card":                  {estimate.HouseTiming, card, 80, 4 + 1 + 15*15},
		"air not known exactly": {estimate.HouseTiming, far, 80 + airMS, t2/6 + 1 + airVariance},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := hall(t, c.timing)
			b.Measurements = []estimate.Measurement{c.m}
			value, variance, next := variances(t, b, "mic-2")
			phase := 0.0
			if c.timing == estimate.FreeTiming {
				phase = t2 / 12
			}
			near(t, "value", value, c.value, 1e-9)
			near(t, "variance", variance, c.variance, slack)
			near(t, "next power-up", next-variance, 1+phase, slack)
		})
	}
}

// With one reading a measurement the scatter of power-ups and that of readings
// are one ignorance, worth the 4 measurements of one prior. A second reading in
// any measurement by the method, or a known uncertainty, tells them apart.
func TestOneReadingHasThePriorsOfOne(t *testing.T) {
	t.Parallel()
	tracks := func(id, powerUp string, readings ...estimate.Reading) estimate.Measurement {
		m := clip(id, "mic-1", "wire", powerUp, 0, 1)
		m.Method, m.CardSource, m.Readings = estimate.Tracks, "", readings
		return m
	}
	plain := func(ms float64) estimate.Reading { return estimate.Reading{OffsetMS: ptr(ms)} }
	for name, c := range map[string]struct {
		all  []estimate.Measurement
		want float64
	}{
		"one reading":  {[]estimate.Measurement{tracks("m", "p", plain(7))}, 4},
		"two readings": {[]estimate.Measurement{tracks("m", "p", plain(6.5), plain(7.5))}, 2 * 1.5 * 1.5 / (0.5 + 0.4*0.25)},
		"said to 1 ms": {[]estimate.Measurement{tracks("m", "p", estimate.Reading{OffsetMS: ptr(7), UMS: ptr(1)})}, 16},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := hall(t, estimate.HouseTiming)
			b.Measurements = c.all
			o := offset(t, solve(t, b), "mic-1", "wire")
			near(t, "degrees of freedom", o.Estimate.DF, c.want, 1e-9)
		})
	}
}

// A phase belongs to one frame of the next stage; a direct stage has none.
func TestPhaseOfAStage(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.FreeTiming)
	b.Measurements = []estimate.Measurement{clap("m", "cam-1", "mic-2", "p", 2)}
	b.Measurements[0].Eye = estimate.BothSides
	b.Devices[4].Modes[0].FrameRate = rate(t, "50") // the switcher
	_, variance, _ := variances(t, b, "mic-2")
	near(t, "into 50 frames a second", variance, frame*frame/6+frame*frame/48+1, slack)
	b.Devices[0].Modes[0].Direct = []estimate.Signal{estimate.Picture}
	_, variance, _ = variances(t, b, "mic-2")
	near(t, "direct", variance, frame*frame/6+1, slack)
}

// A card that nobody checked is 15 ms off, 20 ms once a clap at the same pair
// narrows it, or what a person says; an unnamed one is always flagged.
func TestCardSources(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.HouseTiming)
	b.Measurements = []estimate.Measurement{clip("m", "cam-1", "mic-2", "p", 80, 1)}
	b.CardSources = []estimate.CardSource{{Slug: "tablet", UMS: 3, ValueMS: 7}}
	value, variance, _ := variances(t, b, "mic-2")
	near(t, "value", value, 73, 1e-9)
	near(t, "variance", variance, 1+1+9, slack)
	b.CardSources = nil
	if o := offset(t, solve(t, b), "cam-1", "mic-2"); !slices.Equal(o.Flags, []string{estimate.FlagCardAssumed}) {
		t.Errorf("flags %v", o.Flags)
	}
	b.Measurements[0].CardSource = ""
	if o := offset(t, solve(t, b), "cam-1", "mic-2"); !slices.Contains(o.Flags, estimate.FlagCardUnnamed) {
		t.Errorf("unnamed: flags %v", o.Flags)
	}
	b.Measurements[0].CardSource = "tablet"
	exact := clip("c", "cam-1", "mic-2", "p2", 60, 1)
	exact.Method, exact.CardSource = estimate.Clap, ""
	b.Measurements = append(b.Measurements, exact)
	value, variance, _ = variances(t, b, "mic-2")
	w1, w2 := 1/(2+400.0), 1/2.0
	near(t, "value with a clap", value, (80*w1+60*w2)/(w1+w2), 1e-6)
	near(t, "variance with a clap", variance, 1/(w1+w2), slack)
}

// Measurements merge within 15 minutes of the first, in the same power-up and
// read the same way.
func TestMerging(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.HouseTiming)
	for i, minutes := range []float64{0, 15, 15.1, 16} {
		m := clap(fmt.Sprintf("m%d", i), "cam-1", "mic-2", "p", 2)
		m.TakenAt = evening.Add(time.Duration(minutes * float64(time.Minute)))
		b.Measurements = append(b.Measurements, m)
	}
	other := clap("other", "cam-1", "mic-2", "p", 2)
	other.PowerUp = "q"
	eye := clap("eye", "cam-1", "mic-2", "p", 2)
	eye.Eye = estimate.BothSides
	b.Measurements = append(b.Measurements, other, eye)
	s := solve(t, b)
	for id, want := range map[string][]string{"m0": {"m0", "m1"}, "m1": {"m0", "m1"}, "m2": {"m2", "m3"}, "other": {"other"}, "eye": {"eye"}} {
		if r, _ := s.Report(id); !slices.Equal(r.Merged, want) {
			t.Errorf("%s merged with %v, want %v", id, r.Merged, want)
		}
	}
}

// One measurement at an unknown temperature makes the air of its group unknown,
// whether it comes first or not.
func TestMergedAirIsAsUnknownAsItsWorst(t *testing.T) {
	t.Parallel()
	variance := func(temperatures ...*float64) float64 {
		b := hall(t, estimate.HouseTiming)
		for i, c := range temperatures {
			m := clip(fmt.Sprintf("m%d", i), "cam-1", "mic-2", "p", 100, 1)
			m.AirC, m.DistanceM = c, ptr(50)
			b.Measurements = append(b.Measurements, m)
		}
		return math.Pow(offset(t, solve(t, b), "cam-1", "mic-2").Estimate.SEMS, 2)
	}
	want := variance(nil, nil)
	near(t, "known first", variance(ptr(20), nil), want, 1e-9)
	near(t, "unknown first", variance(nil, ptr(20)), want, 1e-9)
	if known := variance(ptr(20), ptr(20)); !(known < want-1e-3) {
		t.Errorf("variance %v with known temperatures, %v without", known, want)
	}
}

// The spread of a clip's events above 3 ms goes to the next power-up.
func TestEventSpreadIsCarried(t *testing.T) {
	t.Parallel()
	for sd, want := range map[float64]float64{3: 1, 5: 1 + 25} {
		b := hall(t, estimate.HouseTiming)
		b.Measurements = []estimate.Measurement{clip("m", "cam-1", "mic-2", "p", 80, 1)}
		b.Measurements[0].EventSDMS = sd
		_, variance, next := variances(t, b, "mic-2")
		near(t, "next power-up", next-variance, want, slack)
	}
}

// Every unit that was never measured adds its variance.
func TestUnmeasuredUnits(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.HouseTiming)
	b.Measurements = []estimate.Measurement{clap("m", "cam-1", "mic-2", "p", 2)}
	b = known(t, b)
	for i := range b.Variances {
		if b.Variances[i].Class == "unit.microphone" {
			b.Variances[i].MS2 = 9
		}
	}
	s := solve(t, b)
	same, other := offset(t, s, "cam-1", "mic-2"), offset(t, s, "cam-1", "mic-1")
	if other.Basis != estimate.BasisMeasured && other.Basis != estimate.BasisPredicted {
		t.Errorf("basis %s", other.Basis)
	}
	// Without the unit of mic-2 (9 inside the measurement), with that of mic-1.
	near(t, "the other microphone", other.Estimate.SEMS*other.Estimate.SEMS-same.Estimate.SEMS*same.Estimate.SEMS, 9+9, 1e-5)
}

// A slope over the events of a clip is a drift: what the line does over the
// recording counts as a rectangle.
func TestDrift(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.HouseTiming)
	m := clip("m", "mic-1", "wire", "p", 0, 1)
	m.Method, m.CardSource, m.Readings = estimate.Tracks, "", nil
	m.Settings = []estimate.Setting{{Control: "mic-1-delay"}}
	for i := range 11 {
		noise := 0.01 * float64(i%2*2-1)
		m.Readings = append(m.Readings, estimate.Reading{OffsetMS: ptr(float64(i) + noise), AtS: ptr(float64(6 * i))})
	}
	b.Measurements = []estimate.Measurement{m}
	b = known(t, b)
	s := solve(t, b)
	r, _ := s.Report("m")
	if !slices.Contains(r.Flags, estimate.FlagDrift) {
		t.Errorf("flags %v", r.Flags)
	}
	near(t, "slope", r.DriftMSPerMin, 10, 0.01)
	o := offset(t, s, "mic-1", "wire")
	near(t, "variance", o.Estimate.SEMS*o.Estimate.SEMS, 1+1.0/11+100.0/12, 0.01)
	// The readings scatter by 0.01 ms about the line, with two degrees of freedom
	// fewer than readings.
	b.Variances = nil
	fitted, err := estimate.Fit(b)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range fitted.Variances() {
		if v.Class == "read.tracks" {
			near(t, "scatter of readings", v.MS2, (4+0.0011)/(4+9), 0.01)
		}
	}
	for i := range b.Measurements[0].Readings {
		*b.Measurements[0].Readings[i].OffsetMS = float64(i % 2)
	}
	if r, _ := solve(t, b).Report("m"); len(r.Flags) > 0 || r.DriftMSPerMin != 0 {
		t.Errorf("no drift: %+v", r)
	}
}

// A cache notices a reading that changed, and nothing else did.
func TestCacheSeesAReadingChange(t *testing.T) {
	t.Parallel()
	cache := estimate.NewCache(4)
	for _, c := range [][2]float64{{119, 1}, {121, 1}, {121, 9}, {119, 1}} {
		b := several(t)
		b.Measurements = b.Measurements[:1]
		b.Measurements[0].Readings[0].OffsetMS, b.Measurements[0].Readings[0].UMS = ptr(c[0]), ptr(c[1])
		s, err := estimate.SolveCached(b, cache)
		if err != nil {
			t.Fatal(err)
		}
		got, want := offset(t, s, "cam-1", "mic-1"), offset(t, solve(t, b), "cam-1", "mic-1")
		near(t, "offset", got.Estimate.ValueMS, c[0], 1e-9)
		near(t, "se", got.Estimate.SEMS, want.Estimate.SEMS, 0)
	}
}

// A rounding to whole frames on one side stays the same as long as no picture
// stage runs free; a direct stage does not count.
func TestRoundingOnOneSideStays(t *testing.T) {
	t.Parallel()
	const t2 = frame * frame
	for name, c := range map[string]struct {
		direct bool
		want   float64
	}{
		"free":   {false, (t2/12 + t2/12 + 1) / 2},
		"direct": {true, t2/12 + 1.0/2},
	} {
		b := hall(t, estimate.FreeTiming)
		if c.direct {
			b.Devices[0].Modes[0].Direct = []estimate.Signal{estimate.Picture}
		}
		b.Measurements = []estimate.Measurement{clap("m", "cam-1", "mic-2", "p", 2), clap("n", "cam-1", "mic-2", "q", 2)}
		for i := range b.Measurements {
			b.Measurements[i].Eye = estimate.OneSide
		}
		_, variance, _ := variances(t, b, "mic-2")
		near(t, name, variance, c.want, slack)
	}
}

// Two measurements of one power-up share the phase, which does not average; an
// hour later it has walked.
func TestPhaseIsSharedAndWalks(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.FreeTiming)
	for i, after := range []time.Duration{0, time.Hour} {
		m := clap(fmt.Sprintf("m%d", i), "cam-1", "mic-2", "p", 2)
		m.Eye, m.TakenAt = estimate.BothSides, evening.Add(after)
		b.Measurements = append(b.Measurements, m)
	}
	own := frame*frame/6 + 1
	x := 10e-6 * 3600e3 / frame // frames
	rho := 0.0
	for k := 1.0; k < 50; k++ {
		rho += 6 / (math.Pi * math.Pi) * math.Exp(-2*math.Pi*math.Pi*k*k*x*x) / (k * k)
	}
	walked := 2 * frame * frame / 12 * (1 - rho)
	_, variance, _ := variances(t, b, "mic-2")
	near(t, "variance", variance, 1/(1/own+1/(own+walked))+frame*frame/12, slack)
}

// What no measurement speaks of has the degrees of freedom of its prior: with
// variances 1 of 4 pseudo-measurements, df = 2 M^2/(sum of 2/4).
func TestDegreesOfFreedomOfPriors(t *testing.T) {
	t.Parallel()
	b := hall(t, estimate.HouseTiming)
	for _, q := range [][2]string{{"camera", "p25"}, {"switcher", "m"}} {
		b.Stated = append(b.Stated, estimate.Stated{Device: q[0], Mode: q[1], Signal: estimate.Picture, ValueMS: 40, HalfWidthMS: 3})
	}
	o := offset(t, solve(t, b), "cam-1", "wire")
	if o.Basis != estimate.BasisStated || o.Measurements != 0 || o.PowerUps != 0 {
		t.Errorf("basis %s, %d measurements", o.Basis, o.Measurements)
	}
	m := 3.0 + 3 + 1 + 1 // two stated values, two units
	near(t, "value", o.Estimate.ValueMS, 80, 1e-9)
	near(t, "variance", o.Estimate.SEMS*o.Estimate.SEMS, m, 1e-9)
	near(t, "degrees of freedom", o.Estimate.DF, 2*m*m/(2*0.5), 1e-6)
	near(t, "of the next power-up", o.Next.DF, 2*(m+1)*(m+1)/(3*0.5), 1e-6)
}

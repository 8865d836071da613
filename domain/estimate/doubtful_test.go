package estimate_test

import (
	"fmt"
	"math"
	"testing"

	"delaybook/domain/estimate"
)

// several are six good clips of one locked pair about 120 ms, each in a power-up of its own.
func several(tb testing.TB) estimate.Book {
	tb.Helper()
	b := hall(tb, estimate.HouseTiming)
	for i, ms := range []float64{119.2, 120.5, 120.9, 119.6, 120.1, 119.8} {
		b.Measurements = append(b.Measurements, clip(fmt.Sprintf("m%d", i), "cam-1", "mic-1", fmt.Sprintf("p%d", i), ms, 0.5))
	}
	return b
}

func TestDoubtfulMeasurementsAndTheirCauses(t *testing.T) {
	t.Parallel()
	screen := clap("screen", "cam-1", "wire", "p8", 5)
	screen.ReadAt = "screen"
	dialled := clip("bad", "cam-1", "mic-1", "p9", 120-40, 0.5)
	dialled.Settings = []estimate.Setting{{Control: "mic-1-delay", Value: 2}} // 80 ms by declaration, 40 in truth
	fromScreen := clip("bad", "cam-1", "mic-1", "p9", 120+200-120, 0.5)
	for name, c := range map[string]struct {
		bad   estimate.Measurement
		extra []estimate.Measurement
		want  string
	}{
		"sign":        {clip("bad", "cam-1", "mic-1", "p9", -120, 0.5), nil, estimate.CauseSign},
		"seconds":     {clip("bad", "cam-1", "mic-1", "p9", 0.12, 0.5), nil, estimate.CauseSeconds},
		"control":     {dialled, nil, estimate.CauseControlStep},
		"frames":      {clip("bad", "cam-1", "mic-1", "p9", 120+3*frame, 0.5), nil, estimate.CauseWholeFrames},
		"destination": {fromScreen, []estimate.Measurement{clap("prog", "cam-1", "wire", "p8", 3), screen}, estimate.CauseDestination},
		"nothing":     {clip("bad", "cam-1", "mic-1", "p9", 331.7, 0.5), nil, ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := several(t)
			b.Measurements = append(b.Measurements, c.extra...)
			clean := offset(t, solve(t, b), "cam-1", "mic-1")
			b.Measurements = append(b.Measurements, c.bad)
			s := solve(t, b)
			r, ok := s.Report("bad")
			if !ok || !r.Doubtful || r.Cause != c.want {
				t.Errorf("found %v, doubtful %v, ratio %v, cause %q, want %q", ok, r.Doubtful, r.Ratio, r.Cause, c.want)
			}
			for _, r := range s.Reports() {
				if r.ID != "bad" && r.Doubtful {
					t.Errorf("%s is doubtful too", r.ID)
				}
			}
			o := offset(t, s, "cam-1", "mic-1")
			near(t, "offset with the doubtful one", o.Estimate.ValueMS, clean.Estimate.ValueMS, 1e-3)
			if o.WithDoubtful == nil || math.Abs(o.WithDoubtful.ValueMS-o.Estimate.ValueMS) < 5 {
				t.Errorf("with the doubtful one in full: %+v", o.WithDoubtful)
			}
			if clean.WithDoubtful != nil {
				t.Errorf("two answers without a doubtful measurement: %+v", clean.WithDoubtful)
			}
			if o.Measurements != clean.Measurements || o.PowerUps != clean.PowerUps {
				t.Errorf("counts %d measurements in %d power-ups, without it %d in %d", o.Measurements, o.PowerUps, clean.Measurements, clean.PowerUps)
			}
			listed := false
			for _, e := range o.Evidence {
				listed = listed || e.Measurement == "bad" && e.Doubtful
			}
			if !listed {
				t.Errorf("the doubtful measurement is not among the evidence")
			}
		})
	}
}

// Two measurements that contradict only one another: neither can be called the
// wrong one. Both count, and the offset is their mean with the uncertainty of two
// measurements. With a third that agrees with one of them, the other is doubtful.
func TestTwoThatContradictOneAnotherBothCount(t *testing.T) {
	t.Parallel()
	b := several(t)
	b.Measurements = b.Measurements[:2]
	agreeing := offset(t, solve(t, b), "cam-1", "mic-1")
	b.Measurements[1].Readings[0].OffsetMS = ptr(-120.5)
	s := solve(t, b)
	for _, id := range []string{"m0", "m1"} {
		if r, _ := s.Report(id); r.Doubtful || !(r.Ratio > 10) {
			t.Errorf("%s: doubtful %v, ratio %v", id, r.Doubtful, r.Ratio)
		}
	}
	o := offset(t, s, "cam-1", "mic-1")
	near(t, "mean of both", o.Estimate.ValueMS, (119.2-120.5)/2, 1e-6)
	near(t, "standard error", o.Estimate.SEMS, agreeing.Estimate.SEMS, 1e-9)
	fitted, err := estimate.Fit(b)
	if err != nil {
		t.Fatal(err)
	}
	// 240 ms apart: the fit takes them for what power-ups differ by.
	if o := offset(t, fitted, "cam-1", "mic-1"); !(o.Estimate.SEMS > 20 && o.Estimate.SEMS < 200) {
		t.Errorf("standard error of the fit %v", o.Estimate.SEMS)
	}
	third := several(t).Measurements[2]
	b.Measurements = append(b.Measurements, third)
	s = solve(t, b)
	for id, want := range map[string]bool{"m0": false, "m1": true, "m2": false} {
		if r, _ := s.Report(id); r.Doubtful != want {
			t.Errorf("three measurements, %s: doubtful %v, ratio %v", id, r.Doubtful, r.Ratio)
		}
	}
}

// Counts of frames go wrong with the rate: 30 frames of 25 a second (1200 ms)
// counted as frames of 30 are 36; counted as fields they are 60.
func TestDoubtfulCountsOfFrames(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		frames float64
		want   string
	}{
		"another rate": {36, estimate.CauseFrameRate},
		"fields":       {60, estimate.CauseInterlaced},
		"early, late":  {-30, estimate.CauseSign},
	} {
		b := hall(t, estimate.HouseTiming)
		for i := range 6 {
			b.Measurements = append(b.Measurements, clip(fmt.Sprintf("m%d", i), "cam-1", "mic-1", fmt.Sprintf("p%d", i), 1200+float64(i%3)/2, 0.5))
		}
		b.CardSources = []estimate.CardSource{{Slug: "tablet", UMS: 1}}
		b.Measurements = append(b.Measurements, clap("bad", "cam-1", "mic-1", "p9", c.frames))
		r, _ := solve(t, b).Report("bad")
		if !r.Doubtful || r.Cause != c.want {
			t.Errorf("%s: doubtful %v, ratio %v, cause %q, want %q", name, r.Doubtful, r.Ratio, r.Cause, c.want)
		}
	}
}

func TestReportOfGoodMeasurements(t *testing.T) {
	t.Parallel()
	b := several(t)
	s := solve(t, b)
	r, _ := s.Report("m2")
	near(t, "raw", r.RawMS, 120.9, 1e-12)
	near(t, "deleted", r.RawMS-r.PredictedMS, r.DeletedMS, 1e-12)
	// Without m2 the others are equal in weight: their mean is the prediction.
	near(t, "predicted", r.PredictedMS, (119.2+120.5+119.6+120.1+119.8)/5, 1e-6)
	if r.Uncheckable || r.Doubtful || r.Cause != "" || !(r.DetectableMS > 4.13*0.5) {
		t.Errorf("report %+v", r)
	}
	b.Measurements = b.Measurements[:1]
	r, _ = solve(t, b).Report("m0")
	if !r.Uncheckable || r.Doubtful || r.PredictedMS != r.RawMS {
		t.Errorf("the only measurement cannot be checked: %+v", r)
	}
	if _, ok := s.Report("no such"); ok {
		t.Errorf("found a report that is not there")
	}
}

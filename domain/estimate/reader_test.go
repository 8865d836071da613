package estimate

import (
	"fmt"
	"testing"
	"time"

	"delaybook/domain/timebase"
)

// A rig that is revised and measured again and again leaves nothing behind but
// what the book has, and some.
func TestReaderForgets(t *testing.T) {
	t.Parallel()
	rate, err := timebase.NewRate(25, 1)
	if err != nil {
		t.Fatal(err)
	}
	b := Book{
		Devices:          []Device{{Slug: "cam", Kind: "camera", Modes: []Mode{{Slug: "m"}}}},
		KeptRigs:         make([]*Rig, 1),
		KeptMeasurements: make([]*Measurement, 1),
	}
	r, frames := newReader(), 2.0
	for k := range 3 * spare {
		id := fmt.Sprint(k)
		b.KeptRigs[0] = &Rig{ID: id, Slug: "rig", FrameRate: rate, Chains: []Chain{{
			Slug: "cam", Signal: Picture, Stages: []Stage{{Device: "cam", Mode: "m", Timing: FreeTiming}},
		}}}
		b.KeptMeasurements[0] = &Measurement{
			ID: "m", Rig: id, First: "cam", Second: Live, Method: Clap, PowerUp: "p", TakenAt: time.Unix(0, 0),
			Readings: []Reading{{Frames: &frames, Heard: Early}},
		}
		if _, err := r.network(&b); err != nil {
			t.Fatal(err)
		}
	}
	if n := len(r.components); n < 1 || n > spareComponents+2 {
		t.Errorf("%d components remembered of 1", n)
	}
	for what, n := range map[string]int{
		"takings": len(r.takings), "rows": len(r.rows), "rigs": len(r.kept), "pairs": len(r.known.lasting),
	} {
		if n < 1 || n > spare+2 {
			t.Errorf("%d %s remembered of 1", n, what)
		}
	}
}

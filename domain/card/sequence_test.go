package card_test

import (
	"math"
	"slices"
	"testing"

	"delaybook/domain/card"
	"delaybook/domain/timebase"
)

func mustRate(tb testing.TB, text string) timebase.Rate {
	tb.Helper()
	rate, err := timebase.ParseRate(text)
	if err != nil {
		tb.Fatal(err)
	}
	return rate
}

func mustFile(tb testing.TB, rate string) *card.File {
	tb.Helper()
	f, err := card.NewFile(mustRate(tb, rate))
	if err != nil {
		tb.Fatal(err)
	}
	return f
}

func TestTheCycleAddsUp(t *testing.T) {
	t.Parallel()
	sum := 0
	for k, interval := range card.Intervals() {
		if got := card.StartMS(k); got != sum {
			t.Errorf("event %d starts at %d ms, want %d", k, got, sum)
		}
		sum += interval
	}
	if len(card.Intervals()) != card.EventsPerCycle || sum != card.CycleMS {
		t.Errorf("%d intervals make %d ms, want %d and %d", len(card.Intervals()), sum, card.EventsPerCycle, card.CycleMS)
	}
	if got := card.StartMS(3*card.EventsPerCycle + 1); got != 3*card.CycleMS+816 {
		t.Errorf("the second event of the fourth cycle starts at %d ms", got)
	}
}

// TestFlashesAreSafe holds the card against Success Criterion 2.3.1 of WCAG 2.2:
// not more than three flashes in any one-second period. Our own rule is two.
func TestFlashesAreSafe(t *testing.T) {
	t.Parallel()
	// The criterion itself, on even flashes: 1/3 s apart and a hair pass, 0.3 s apart fail.
	for spacing, want := range map[int]int{3334: 3, 3000: 4, 10001: 1} {
		var even []int
		for k := range 50 {
			even = append(even, k*spacing)
		}
		if got := card.MostWithin(even, 10000); got != want {
			t.Errorf("flashes every %d of 10000: %d in a second, want %d", spacing, got, want)
		}
	}
	if got := card.MostWithin(card.Starts(60), 1000); got != 2 {
		t.Errorf("a second of the sequence holds %d flashes, want 2", got)
	}
	for _, rate := range card.Rates() {
		f := mustFile(t, rate.String())
		var samples []int // loop the file: its seam has to be as safe
		for loop := range 2 {
			for _, e := range f.Events {
				samples = append(samples, loop*int(f.Samples)+int(e.Sample))
			}
		}
		if got := card.MostWithin(samples, card.SampleRate); got != 2 {
			t.Errorf("a second of the %s file holds %d flashes, want 2", rate.Label(), got)
		}
	}
}

// TestSpansDiffer: no two spans over one to three intervals up to 2.25 s are
// nearer than 45 ms, so that a wrong pairing can not line up.
func TestSpansDiffer(t *testing.T) {
	t.Parallel()
	var spans []int
	for k := range card.EventsPerCycle {
		for n := 1; n <= 3; n++ {
			if span := card.StartMS(k+n) - card.StartMS(k); span <= 2250 {
				spans = append(spans, span)
			}
		}
	}
	slices.Sort(spans)
	if len(spans) != 19 || spans[0] != 701 { // 12 intervals and 7 pairs; three make 2326 at least
		t.Fatalf("the spans are %v, want 19 from 701 ms", spans)
	}
	for i := 1; i < len(spans); i++ {
		if spans[i]-spans[i-1] < 45 {
			t.Errorf("two spans of %d and %d ms", spans[i-1], spans[i])
		}
	}
}

// TestAWrongPairingDoesNotLineUp counts, for each lag up to 2.25 s, how many
// events of a file meet another one within half a frame and 6 ms: what an
// analysis that pairs flashes and beeps would count for that offset.
func TestAWrongPairingDoesNotLineUp(t *testing.T) {
	t.Parallel()
	for _, rate := range card.Rates() {
		f := mustFile(t, rate.String())
		events := f.Truth()
		tolerance := rate.FrameMS()*0.55 + 6
		worst, at := 0, 0.0
		for lag := math.Ceil(2 * tolerance); lag <= 2250; lag += 4 { // the tolerance is four steps at least
			met := 0
			for _, a := range events {
				if slices.ContainsFunc(events, func(b card.Truth) bool {
					return math.Abs((b.SoundS-a.SoundS)*1000-lag) <= tolerance
				}) {
					met++
				}
			}
			if met > worst {
				worst, at = met, lag
			}
		}
		// Spans 45 ms apart, each moved by up to a frame, and a window of two tolerances.
		if most := len(events) * 4 / 12; worst > most || worst < 5 { // 5: one a cycle
			t.Errorf("%s: %d of %d events line up at a lag of %g ms, want 5 to %d", rate.Label(), worst, len(events), at, most)
		}
	}
}

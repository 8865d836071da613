package service_test

import (
	"math"
	"testing"

	"delaybook/domain"
	"delaybook/domain/ladder"
	"delaybook/domain/service"
)

func (b *bench) arrivals(t *testing.T) service.Arrivals {
	t.Helper()
	all, err := b.Arrivals(t.Context(), as(domain.Tech, b.red), "hall")
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 1 || len(all[0].Ladder.Rows) != 2 {
		t.Fatalf("got %+v, want one destination with a picture and a sound", all)
	}
	if err := all[0].Ladder.Check(); err != nil {
		t.Fatal(err)
	}
	return all[0]
}

// The ends of two rows are apart by what the plan leaves of their pair, however
// little is known of the stages.
func TestTheEndsOfTheRowsAreApartByWhatIsLeft(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	before := b.arrivals(t)
	for _, row := range before.Ladder.Rows {
		if !row.Unknown {
			t.Errorf("%s is known before anything was measured: %+v", row.Name, row)
		}
	}
	if len(before.Gaps) != 0 {
		t.Errorf("a gap before anything was measured: %+v", before.Gaps)
	}
	if _, err := b.AddMeasurement(t.Context(), as(domain.Tech, b.red), "hall", clap("5")); err != nil {
		t.Fatal(err)
	}
	after := b.arrivals(t)
	delays, err := b.Delays(t.Context(), as(domain.Tech, b.red), "hall", "")
	if err != nil {
		t.Fatal(err)
	}
	picture, sound := after.Ladder.Rows[0], after.Ladder.Rows[1]
	const rounding = 1e-9 // ms: sums of a few numbers below 1000
	if got, want := picture.EndMS()-sound.EndMS(), delays.Pairs[0].AfterMS; math.Abs(got-want) > rounding {
		t.Errorf("the ends are %v ms apart, the plan leaves %v", got, want)
	}
	if !after.Ladder.LeftOut {
		t.Error("no stage is known apart, and nothing is said to be left out")
	}
	last := sound.Lengths[len(sound.Lengths)-1]
	if last.Kind != ladder.Dialled || last.Name != "lectern-delay" || math.Abs(last.MS-delays.Settings[0].MS) > rounding {
		t.Errorf("the sound ends with %+v, want the delay of the plan, %v ms", last, delays.Settings[0].MS)
	}
	if len(after.Gaps) != 1 || after.Gaps[0].Row != 1 || after.Gaps[0].ToMS != picture.EndMS() {
		t.Errorf("gaps %+v", after.Gaps)
	}
}

// Rows hang together along the pairs: a second microphone is placed by the camera
// that the first one placed.
func TestEveryPairOfALadderIsApartByWhatIsLeft(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	in := hall()
	in.Chains = append(in.Chains, service.NewChain{
		Slug: "hand", Signal: "sound", AirM: ptr(3.0), Stages: []service.NewStage{{Device: "mic-w", Mode: "m"}},
	})
	if _, err := b.ReplaceRig(t.Context(), as(domain.Editor, b.red), "hall", service.Match{Given: true, Any: true}, in); err != nil {
		t.Fatal(err)
	}
	hand := clap("2")
	hand.Sound, hand.Settings = "hand", nil
	for _, m := range []service.NewMeasurement{clap("5"), hand} {
		if _, err := b.AddMeasurement(t.Context(), as(domain.Tech, b.red), "hall", m); err != nil {
			t.Fatal(err)
		}
	}
	all, err := b.Arrivals(t.Context(), as(domain.Tech, b.red), "hall")
	if err != nil {
		t.Fatal(err)
	}
	delays, err := b.Delays(t.Context(), as(domain.Tech, b.red), "hall", "")
	if err != nil {
		t.Fatal(err)
	}
	ends := map[string]float64{}
	for _, row := range all[0].Ladder.Rows {
		ends[row.Name] = row.EndMS()
	}
	if len(delays.Pairs) != 2 || delays.Pairs[1].AfterMS == 0 {
		t.Fatalf("pairs %+v: want two, and something left of the second", delays.Pairs)
	}
	for _, p := range delays.Pairs {
		const rounding = 1e-9 // ms: sums of a few numbers below 1000
		if got := ends[string(p.Picture)] - ends[string(p.Sound)]; math.Abs(got-p.AfterMS) > rounding {
			t.Errorf("%s with %s: the ends are %v ms apart, the plan leaves %v", p.Picture, p.Sound, got, p.AfterMS)
		}
	}
}

// A row that is known whole fixes all lengths: a microphone without delay takes
// no time, so that the picture's length is what was measured.
func TestAWholeRowFixesAllLengths(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	b.addHall(t)
	wired := service.NewDevice{
		Slug: "mic-p", Name: "Wired microphone", Kind: "microphone", Modes: []service.NewMode{{Slug: "m", Direct: []string{"sound"}}},
	}
	if _, err := b.AddDevice(t.Context(), as(domain.Editor, b.red), wired); err != nil {
		t.Fatal(err)
	}
	in := hall()
	in.Chains[1] = service.NewChain{Slug: "lectern", Signal: "sound", Stages: []service.NewStage{{Device: "mic-p", Mode: "m"}}}
	if _, err := b.ReplaceRig(t.Context(), as(domain.Editor, b.red), "hall", service.Match{Given: true, Any: true}, in); err != nil {
		t.Fatal(err)
	}
	m := clap("5")
	m.Settings = nil
	if _, err := b.AddMeasurement(t.Context(), as(domain.Tech, b.red), "hall", m); err != nil {
		t.Fatal(err)
	}
	after := b.arrivals(t)
	if after.Ladder.LeftOut {
		t.Error("something is left out")
	}
	if end := after.Ladder.Rows[1].EndMS(); end != 0 {
		t.Errorf("the sound arrives after %v ms", end)
	}
	// 5 frames of 30000/1001 a second are 5 x 1001/30 = 166.833 ms; a reading by
	// eye in whole frames may stand for half a frame, 16.7 ms, more or less.
	if end := after.Ladder.Rows[0].EndMS(); math.Abs(end-166.833) > 16.7 {
		t.Errorf("the picture arrives after %v ms, want 5 frames give or take a half", end)
	}
}

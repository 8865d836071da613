package timebase_test

import (
	"errors"
	"math"
	"math/big"
	"math/rand/v2"
	"strconv"
	"testing"

	"delaybook/domain/timebase"
)

func atoi(tb testing.TB, s string) int64 {
	tb.Helper()
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil {
		tb.Fatal(err)
	}
	return n
}

// TestFrameRateTable checks against exact arithmetic done elsewhere on the rates
// of ITU-R BT.709-6 and BT.2020-2.
func TestFrameRateTable(t *testing.T) {
	t.Parallel()
	at48 := mustSampleRate(t, "48000")
	for _, row := range table(t, "frame_rates.csv") {
		r := mustRate(t, row["label"])
		if r.Num() != atoi(t, row["num"]) || r.Den() != atoi(t, row["den"]) || r.Label() != row["label"] {
			t.Errorf("%s is %v, label %s", row["label"], r, r.Label())
		}
		frame := mustRat(t, row["frame_ms_exact_num"]+"/"+row["frame_ms_exact_den"])
		if got := r.SpanRat(big.NewRat(1, 1)); got.Cmp(frame) != 0 {
			t.Errorf("a frame at %s lasts %s ms, want %s", r, got, frame)
		}
		if got := r.FrameMS(); got != nearestFloat(frame) {
			t.Errorf("a frame at %s lasts %v ms, want %v", r, got, nearestFloat(frame))
		}
		if got := r.FramesSamples(2, at48); got.Cmp(mustRat(t, row["samples_per_frame_48k"])) != 0 {
			t.Errorf("a frame at %s is %s samples, want %s", r, got, row["samples_per_frame_48k"])
		}
		frames, samples := r.SampleCycle(at48)
		if frames != atoi(t, row["frames_per_whole_sample_cycle"]) || samples != atoi(t, row["samples_per_cycle"]) {
			t.Errorf("cycle of %s: %d frames, %d samples; want %s, %s", r, frames, samples,
				row["frames_per_whole_sample_cycle"], row["samples_per_cycle"])
		}
	}
}

// TestFramesToMSTable checks the same source's rows of 1 to 100 frames, there
// and back.
func TestFramesToMSTable(t *testing.T) {
	t.Parallel()
	at48 := mustSampleRate(t, "48000")
	for _, row := range table(t, "frames_to_ms.csv") {
		r, n, ms := mustRate(t, row["label"]), atoi(t, row["frames"]), mustRat(t, row["ms_exact"])
		half := timebase.HalfFrames(2 * n)
		if got := r.FramesMS(n); got != nearestFloat(ms) {
			t.Errorf("%d frames at %s = %v ms, want %s", n, r, got, row["ms_9"])
		}
		if got := r.HalfFramesMS(half); got != nearestFloat(ms) {
			t.Errorf("%v frames at %s = %v ms, want %s", half, r, got, row["ms_9"])
		}
		if got := r.FramesSamples(half, at48); got.Cmp(mustRat(t, row["samples_48k_exact"])) != 0 {
			t.Errorf("%d frames at %s = %s samples, want %s", n, r, got, row["samples_48k_exact"])
		}
		if got := r.FramesRat(ms); got.Cmp(big.NewRat(n, 1)) != 0 {
			t.Errorf("%s ms at %s = %s frames, want %d", ms, r, got, n)
		}
		if got, err := r.NearestFrames(r.FramesMS(n)); err != nil || got != n {
			t.Errorf("%d frames at %s come back as %d, %v", n, r, got, err)
		}
		if got, err := r.MSFrames(r.FramesMS(n)); err != nil || math.Abs(got-float64(n)) > float64(n)*0x1p-52 {
			t.Errorf("%d frames at %s come back as %v, %v; want within two roundings", n, r, got, err)
		}
	}
}

func TestThirtyMixedUpWith2997(t *testing.T) {
	t.Parallel()
	// Five frames: 1001/6 ms = 8008 samples, against 1000/6 ms = 8000.
	gap := new(big.Rat).Sub(mustRate(t, "29.97").SpanRat(big.NewRat(5, 1)), mustRate(t, "30").SpanRat(big.NewRat(5, 1)))
	if gap.RatString() != "1/6" {
		t.Errorf("five frames differ by %s ms, want 1/6", gap.RatString())
	}
}

func TestHalfFrames(t *testing.T) {
	t.Parallel()
	for in, want := range map[float64]string{0: "0", 5: "5", 6.5: "6.5", -0.5: "-0.5", -1.5: "-1.5", 0.5: "0.5", -7: "-7"} {
		h, err := timebase.HalfFramesOf(in)
		if err != nil || h.String() != want || h.Frames() != in || nearestFloat(h.Rat()) != in {
			t.Errorf("%v frames = %q (%v), %v; want %q", in, h, h.Frames(), err, want)
		}
	}
	for in, send := range map[float64]string{
		5.25: `"5.5"`, 5.2: `"5"`, -0.3: `"-0.5"`, math.NaN(): `"5"`, math.Inf(1): `"5"`, 1e300: `"5"`,
	} {
		h, err := timebase.HalfFramesOf(in)
		if h != 0 {
			t.Errorf("HalfFramesOf(%v) = %v beside an error", in, h)
		}
		refused(t, strconv.FormatFloat(in, 'g', -1, 64), err, send)
	}
	// Half a frame at 29.97 is 1001/60 ms.
	if got := mustRate(t, "29.97").HalfFramesMS(1); got != nearestFloat(mustRat(t, "1001/60")) {
		t.Errorf("half a frame = %v ms", got)
	}
}

func TestNearestHalvesGoAwayFromZero(t *testing.T) {
	t.Parallel()
	at25 := mustRate(t, "25") // 40 ms a frame, so that the ties below are exact
	for _, c := range []struct {
		ms    float64
		whole int64
		half  timebase.HalfFrames
	}{{0, 0, 0}, {19.9, 0, 1}, {20, 1, 1}, {-20, -1, -1}, {9.9, 0, 0}, {10, 0, 1}, {-10, 0, -1}, {60, 2, 3}, {-59.9, -1, -3}} {
		whole, errW := at25.NearestFrames(c.ms)
		half, errH := at25.NearestHalfFrames(c.ms)
		if errors.Join(errW, errH) != nil || whole != c.whole || half != c.half {
			t.Errorf("%v ms: %d whole, %d halves, %v, %v; want %d, %d", c.ms, whole, half, errW, errH, c.whole, c.half)
		}
	}
}

func TestNothingWrapsRound(t *testing.T) {
	t.Parallel()
	r, s := mustRate(t, "1000"), mustSampleRate(t, "768000")
	for _, ms := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300, -1e300} {
		_, errF := r.NearestFrames(ms)
		_, errH := r.NearestHalfFrames(ms)
		_, errS := s.NearestSamples(ms)
		_, errT := timebase.TicksOfMS(ms)
		for _, err := range []error{errF, errH, errS, errT} {
			if !errors.Is(err, timebase.ErrRange) {
				t.Errorf("%v ms: %v, want ErrRange", ms, err)
			}
		}
	}
	if got := mustRate(t, "29.97").FramesMS(math.MaxInt64); got != nearestFloat(mustRat(t, "9232595408891630582807/30")) {
		t.Errorf("the largest count of frames lasts %v ms", got) // 1001 * (2^63-1)
	}
	if got := timebase.Float(new(big.Rat).SetInt(new(big.Int).Lsh(big.NewInt(-1), 2000))); got != -math.MaxFloat64 {
		t.Errorf("Float(-2^2000) = %v, want the largest negative number", got)
	}
}

func TestRoundedOnceAtAnyRate(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20_000 {
		den := 1 + rng.Int64N(1_000_000)
		r, err := timebase.NewRate(den*(1+rng.Int64N(999))+rng.Int64N(den), den)
		if err != nil {
			t.Fatal(err)
		}
		n := (rng.Int64() >> rng.IntN(63)) * (1 - 2*rng.Int64N(2))
		want := nearestFloat(new(big.Rat).Mul(big.NewRat(n, 1), big.NewRat(1000*r.Den(), r.Num())))
		if got := r.FramesMS(n); got != want {
			t.Fatalf("%d frames at %s = %v ms, want %v", n, r, got, want)
		}
	}
}

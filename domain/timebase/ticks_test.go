package timebase_test

import (
	"errors"
	"math"
	"math/big"
	"testing"

	"delaybook/domain/timebase"
)

func TestTicksHoldWhatThePackageCommentSays(t *testing.T) {
	t.Parallel()
	exact := func(what string, ms *big.Rat, want timebase.Ticks) {
		t.Helper()
		got, err := timebase.ExactTicks(ms)
		if err != nil || (want != 0 && got != want) {
			t.Errorf("%s = %d ticks, %v; want %d, exact", what, got, err, want)
		}
		if got.Rat().Cmp(ms) != 0 || got.MS() != nearestFloat(ms) {
			t.Errorf("%s comes back as %s ms", what, got.Rat())
		}
	}
	exact("1 ms", mustRat(t, "1"), 705_600)
	exact("0.01 ms", mustRat(t, "0.01"), 7_056)
	exact("-0.05 ms", mustRat(t, "-0.05"), -35_280)
	for hz, want := range map[string]timebase.Ticks{
		"8000": 88_200, "11025": 64_000, "12000": 58_800, "16000": 44_100, "22050": 32_000, "24000": 29_400, "32000": 22_050, "44100": 16_000,
		"48000": 14_700, "88200": 8_000, "96000": 7_350, "176400": 4_000, "192000": 3_675, "352800": 2_000,
	} {
		exact("a sample at "+hz, mustSampleRate(t, hz).SpanRat(1), want)
	}
	for _, row := range table(t, "frame_rates.csv") {
		r := mustRate(t, row["label"])
		exact("a frame at "+row["label"], r.SpanRat(big.NewRat(1, 1)), 0)
		exact("half a frame at "+row["label"], r.SpanRat(big.NewRat(1, 2)), 0)
	}
	exact("a frame at 29.97", mustRat(t, "1001/30"), 23_543_520)
}

func TestTicksOffTheGrid(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]timebase.Ticks{
		"0.001":  706,   // 705.6
		"-0.001": -706,  // and its mirror image
		"1/384":  1_838, // a sample at 384 kHz, 1837.5: halves go away from zero
		"-1/384": -1_838,
	} {
		if _, err := timebase.ExactTicks(mustRat(t, in)); !errors.Is(err, timebase.ErrOffGrid) {
			t.Errorf("ExactTicks(%s) answers %v, want ErrOffGrid", in, err)
		}
		if got, err := timebase.RoundTicks(mustRat(t, in)); err != nil || got != want {
			t.Errorf("RoundTicks(%s) = %d, %v; want %d", in, got, err, want)
		}
	}
	if got, err := timebase.TicksOfMS(200.2); err != nil || got != 141_261_120 {
		t.Errorf("200.2 ms = %d ticks, %v; want 141261120", got, err)
	}
}

func TestTicksEnds(t *testing.T) {
	t.Parallel()
	const most, least = timebase.Ticks(math.MaxInt64), timebase.Ticks(math.MinInt64)
	last := big.NewRat(math.MaxInt64, timebase.TicksPerMS)
	if got, err := timebase.ExactTicks(last); err != nil || got != most {
		t.Errorf("the last tick = %d, %v", got, err)
	}
	beyond := new(big.Rat).Add(last, big.NewRat(1, timebase.TicksPerMS))
	if _, err := timebase.ExactTicks(beyond); !errors.Is(err, timebase.ErrRange) {
		t.Errorf("one more: %v, want ErrRange", err)
	}
	if _, err := timebase.RoundTicks(beyond); !errors.Is(err, timebase.ErrRange) {
		t.Errorf("one more, rounded: %v, want ErrRange", err)
	}
	for _, c := range []struct{ a, b, sum, diff timebase.Ticks }{
		{2, 3, 5, -1},
		{-2, 3, 1, -5},
		{most, 1, most, most - 1},
		{most, -1, most - 1, most},
		{least, -1, least, least + 1},
		{least, 1, least + 1, least},
		{least, least, least, 0},
		{0, least, least, most},
		{-1, least, least, most},
	} {
		if sum, diff := c.a.Add(c.b), c.a.Sub(c.b); sum != c.sum || diff != c.diff {
			t.Errorf("%d and %d: sum %d, difference %d; want %d, %d", c.a, c.b, sum, diff, c.sum, c.diff)
		}
	}
}

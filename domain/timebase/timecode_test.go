package timebase_test

import (
	"fmt"
	"math/big"
	"strings"
	"testing"

	"delaybook/domain/timebase"
)

// TestDropFrameTable checks labels by the rule of SMPTE ST 12-1, both ways, and
// their real times in exact rationals.
func TestDropFrameTable(t *testing.T) {
	t.Parallel()
	for _, row := range table(t, "dropframe_check.csv") {
		r, frame := mustRate(t, row["rate"]), atoi(t, row["frame_number"])
		tc, err := timebase.ParseTimecode(row["timecode_df"], r)
		if err != nil || tc.Frame() != frame || tc.Counting() != timebase.DropFrame || tc.Rate() != r {
			t.Errorf("%s at %s is frame %d, %v; want %d", row["timecode_df"], r.Label(), tc.Frame(), err, frame)
			continue
		}
		ms := mustRat(t, row["seconds_exact"])
		ms.Mul(ms, big.NewRat(1000, 1))
		if tc.Rat().Cmp(ms) != 0 || tc.MS() != nearestFloat(ms) {
			t.Errorf("%s is at %s ms, want %s", tc, tc.Rat(), ms)
		}
		back, err := timebase.TimecodeAt(frame, r, timebase.DropFrame)
		if err != nil || back.String() != row["timecode_df"] {
			t.Errorf("frame %d at %s is %q, %v; want %q", frame, r.Label(), back, err, row["timecode_df"])
		}
	}
}

func TestTheEndsOfEverySecondOfADay(t *testing.T) {
	t.Parallel()
	r, frame := mustRate(t, "29.97"), int64(0)
	for second := range 86400 {
		h, m, s, first := second/3600, second/60%60, second%60, 0
		if s == 0 && m%10 != 0 {
			first = 2
		}
		for _, f := range []int{first, 29} {
			label, want := fmt.Sprintf("%02d:%02d:%02d;%02d", h, m, s, f), frame+int64(f-first)
			tc, err := timebase.ParseTimecode(label, r)
			if err != nil || tc.Frame() != want {
				t.Fatalf("%s is frame %d, %v; want %d", label, tc.Frame(), err, want)
			}
			if back, err := timebase.TimecodeAt(want, r, timebase.DropFrame); err != nil || back.String() != label {
				t.Fatalf("frame %d is %q, %v; want %q", want, back, err, label)
			}
		}
		frame += int64(30 - first)
	}
	if _, err := timebase.TimecodeAt(frame, r, timebase.DropFrame); err == nil {
		t.Error("the day has one frame too many")
	}
}

func TestDropFrameLosesWhatSMPTESays(t *testing.T) {
	t.Parallel()
	// SMPTE 12M-1999, read second-hand: -3.6 ms an hour, about -86 ms a day. Exactly -86.4.
	r := mustRate(t, "29.97")
	for frames, want := range map[int64]string{107_892: "3599996.4", 2_589_408: "86399913.6"} {
		if got := r.SpanRat(big.NewRat(frames, 1)); got.Cmp(mustRat(t, want)) != 0 {
			t.Errorf("%d frames last %s ms, want %s", frames, got.FloatString(3), want)
		}
	}
	hour, err := timebase.ParseTimecode("01:00:00:00", r)
	if err != nil || hour.MS() != 3_603_600 || hour.Counting() != timebase.NonDrop {
		t.Errorf("a non-drop hour is %v ms, %v; want 3603600", hour.MS(), err)
	}
}

func TestNonDropLabels(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		label, rate string
		frame       int64
	}{
		{"00:00:00:00", "25", 0},
		{"00:01:00:00", "29.97", 1800},
		{"23:59:59:24", "25", 2_159_999},
		{"00:00:01:23", "23.976", 47},
		{"10:00:00:00", "24", 864_000},
		{"00:00:01:00", "50", 50},
		{"00:00:00:99", "100", 99},
		{"00:00:01:008", "119.88", 128},
		{"00:00:01:119", "120", 239},
	} {
		tc, err := timebase.ParseTimecode(c.label, mustRate(t, c.rate))
		if err != nil || tc.Frame() != c.frame || tc.String() != c.label {
			t.Errorf("%s at %s is frame %d, %q, %v; want %d", c.label, c.rate, tc.Frame(), tc, err, c.frame)
		}
	}
}

func TestLabelsThatDoNotExist(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ label, rate, send string }{
		{"00:01:00;00", "29.97", `"00:01:00;02"`},
		{"00:01:00;01", "29.97", `"00:01:00;02"`},
		{"13:59:00;01", "29.97", `"13:59:00;02"`},
		{"00:01:00;03", "59.94", `"00:01:00;04"`},
		{"00:09:00;007", "119.88", `"00:09:00;008"`},
		{"24:00:00;00", "29.97", "hours from 0 to 23"},
		{"00:60:00:00", "25", "minutes from 0 to 59"},
		{"00:00:60:00", "25", "seconds from 0 to 59"},
		{"00:00:00:25", "25", "frames from 0 to 24"},
		{"00:00:00;30", "29.97", "frames from 0 to 29"},
		{"00:01:00;02", "25", "non-drop"},
		{"00:01:00;02", "23.976", "non-drop"},
		{"00:01:00;02", "30", "non-drop"},
		{"00:01:00;02", "90000/1001", "non-drop"},
		{"00:01:00:02", "25/2", "1001-rates"},
		{"00:01:00:02", "119.88", `"10:00:00:000"`},
		{"00;01;00;02", "29.97", `"10:00:00;00"`},
		{"1:00:00:00", "25", `"10:00:00:00"`},
		{"00:00:00", "25", `"10:00:00:00"`},
		{"00:00:00:00:00", "25", `"10:00:00:00"`},
		{"00:00:-1:00", "25", `"10:00:00:00"`},
		{"", "25", `"10:00:00:00"`},
		{";", "29.97", `"10:00:00;00"`},
	} {
		tc, err := timebase.ParseTimecode(c.label, mustRate(t, c.rate))
		if tc != (timebase.Timecode{}) {
			t.Errorf("%q = %v beside an error", c.label, tc)
		}
		refused(t, c.label, err, c.send)
	}
	if tc, err := timebase.ParseTimecode("00:10:00;00", mustRate(t, "29.97")); err != nil || tc.Frame() != 17982 {
		t.Errorf("the tenth minute starts at %d, %v; want 17982", tc.Frame(), err)
	}
}

func TestTimecodeAtRefuses(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		frame    int64
		rate     string
		counting timebase.Counting
		send     string
	}{
		{-1, "25", timebase.NonDrop, "0 to 2159999"},
		{2_160_000, "25", timebase.NonDrop, "0 to 2159999"},
		{2_589_408, "29.97", timebase.DropFrame, "0 to 2589407"},
		{0, "25", timebase.DropFrame, "non-drop"},
		{0, "25/2", timebase.NonDrop, "1001-rates"},
	} {
		_, err := timebase.TimecodeAt(c.frame, mustRate(t, c.rate), c.counting)
		refused(t, fmt.Sprint(c.frame), err, c.send)
	}
}

func FuzzTimecode(f *testing.F) {
	for _, s := range []string{"00:01:00;02", "00:01:00;00", "23:59:59;29", "01:00:00:00", "00:00:00:24", ";", "::::"} {
		f.Add(s, uint8(0), int64(1800))
	}
	rates := strings.Fields("29.97 59.94 119.88 25 23.976 30 120")
	f.Fuzz(func(t *testing.T, s string, pick uint8, frame int64) {
		r := mustRate(t, rates[int(pick)%len(rates)])
		if tc, err := timebase.ParseTimecode(s, r); err != nil {
			refused(t, s, err, "")
		} else if tc.String() != strings.TrimSpace(s) {
			t.Errorf("%q at %s reads back as %q", s, r.Label(), tc)
		}
		for _, c := range []timebase.Counting{timebase.NonDrop, timebase.DropFrame} {
			tc, err := timebase.TimecodeAt(frame, r, c)
			if err != nil {
				refused(t, s, err, "")
				continue
			}
			if again, err := timebase.ParseTimecode(tc.String(), r); err != nil || again != tc || again.Frame() != frame {
				t.Errorf("frame %d at %s is %q, which is %d, %v", frame, r.Label(), tc, again.Frame(), err)
			}
		}
	})
}

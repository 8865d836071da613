package timebase

import (
	"fmt"
	"math/big"
)

// Counting says which labels a time code leaves out.
type Counting string

// The ways of counting. NonDrop uses every label. DropFrame leaves out the first
// labels of each minute that is not a multiple of ten: two at 29.97, four at
// 59.94, eight at 119.88 (SMPTE ST 12-1; the eight are the same rule applied to
// the doubled rate). Labels are left out, never pictures.
const (
	NonDrop   Counting = "non-drop"
	DropFrame Counting = "drop-frame"
)

// A Timecode is the label of one picture within a day. The zero Timecode is not
// valid: ParseTimecode and TimecodeAt return valid ones.
type Timecode struct {
	rate     Rate
	counting Counting
	frame    int64 // pictures since 00:00:00:00
}

// clock holds what the labels of a rate and counting are made of.
type clock struct {
	nominal int64 // labels per second
	drop    int64 // labels left out per minute
}

// clockOf returns the clock of a rate. The nominal rate is the integer n of a
// rate n or n*1000/1001.
func clockOf(r Rate, c Counting) (clock, error) {
	nominal := r.num
	if r.den == 1001 && r.num%1000 == 0 {
		nominal = r.num / 1000
	} else if r.den != 1 {
		return clock{}, inputError(r.Label(), "time code needs a whole number of labels per second",
			`a rate that is an integer or one of the 1001-rates, like "25" or "30000/1001"`)
	}
	if c != DropFrame {
		return clock{nominal: nominal}, nil
	}
	if r.den != 1001 || nominal%30 != 0 || nominal > 120 || nominal == 90 {
		return clock{}, inputError(r.Label(), "drop-frame time code exists at 29.97, 59.94 and 119.88 only",
			`non-drop time code, with ":" before the frames`)
	}
	return clock{nominal: nominal, drop: nominal / 15}, nil
}

// Derived counts of pictures.
func (c clock) perMinute() int64 { return 60*c.nominal - c.drop }
func (c clock) perTen() int64    { return 600*c.nominal - 9*c.drop }
func (c clock) perDay() int64    { return 24 * 6 * c.perTen() }

// TimecodeAt returns the label of a picture; frame 0 is 00:00:00:00. It refuses,
// with an *InputError, frames outside one day, rates that time code cannot count,
// and drop-frame counting at a rate that has none.
func TimecodeAt(frame int64, r Rate, c Counting) (Timecode, error) {
	r.must()
	clk, err := clockOf(r, c)
	if err != nil {
		return Timecode{}, err
	}
	if frame < 0 || frame >= clk.perDay() {
		return Timecode{}, inputError(fmt.Sprint(frame), "the frame is outside one day of time code",
			fmt.Sprintf("a frame from 0 to %d", clk.perDay()-1))
	}
	if c != DropFrame {
		c = NonDrop
	}
	return Timecode{rate: r, counting: c, frame: frame}, nil
}

// Frame returns the number of pictures since 00:00:00:00.
func (t Timecode) Frame() int64 { return t.frame }

// Rate returns the frame rate.
func (t Timecode) Rate() Rate { return t.rate }

// Counting returns NonDrop or DropFrame.
func (t Timecode) Counting() Counting { return t.counting }

// MS returns the real time since picture 0 in ms, rounded once. It is not what
// the label reads: 01:00:00:00 non-drop at 29.97 is at 3603.6 s.
func (t Timecode) MS() float64 { return t.rate.FramesMS(t.frame) }

// Rat returns the real time since picture 0 in ms, exactly.
func (t Timecode) Rat() *big.Rat { return t.rate.SpanRat(new(big.Rat).SetInt64(t.frame)) }

// String returns the label, "01:00:00:00", with ";" before the frames if
// the counting is drop-frame, and "" for the zero Timecode. Frames have two
// digits, and three where the rate has more than 100 labels per second.
func (t Timecode) String() string {
	if t.rate.IsZero() {
		return ""
	}
	clk, err := clockOf(t.rate, t.counting)
	if err != nil {
		return "" // not reachable: both constructors went through clockOf
	}
	return clk.format(clk.label(t.frame))
}

// frame takes out the labels that are left out before the label. Both count from
// the day's first, and label must exist.
func (c clock) frame(label int64) int64 {
	minutes := label / (60 * c.nominal)
	return label - c.drop*(minutes-minutes/10)
}

// label inserts the labels that are left out before the frame.
func (c clock) label(frame int64) int64 {
	tens, rest := frame/c.perTen(), frame%c.perTen()
	label := frame + 9*c.drop*tens
	if first := 60 * c.nominal; rest >= first { // the first minute of ten is whole
		label += c.drop * (1 + (rest-first)/c.perMinute())
	}
	return label
}

func (c clock) format(label int64) string {
	f, s := label%c.nominal, label/c.nominal
	separator := ":"
	if c.drop > 0 {
		separator = ";"
	}
	return fmt.Sprintf("%02d:%02d:%02d%s%0*d", s/3600, s/60%60, s%60, separator, c.frameDigits(), f)
}

func (c clock) frameDigits() int {
	if c.nominal > 100 {
		return 3
	}
	return 2
}

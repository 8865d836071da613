package timebase

import (
	"fmt"
	"strconv"
	"strings"
)

// ParseTimecode reads a label "HH:MM:SS:FF", or "HH:MM:SS;FF" for drop-frame
// counting, at rate r. Frames have as many digits as String writes. It refuses,
// with an *InputError, labels that do not exist: those out of range, and those
// that drop-frame counting leaves out, naming the next one that exists.
func ParseTimecode(s string, r Rate) (Timecode, error) {
	r.must()
	text := strings.TrimSpace(s)
	counting := NonDrop
	if strings.Contains(text, ";") {
		counting = DropFrame
	}
	clk, err := clockOf(r, counting)
	if err != nil {
		return Timecode{}, err
	}
	h, m, sec, f, err := clk.fields(text)
	if err != nil {
		return Timecode{}, err
	}
	minutes := 60*h + m
	if clk.drop > 0 && m%10 != 0 && sec == 0 && f < clk.drop {
		next := clk.format(60*clk.nominal*minutes + clk.drop)
		return Timecode{}, inputError(text, "drop-frame counting leaves this label out",
			fmt.Sprintf("%q, the next label that exists", next))
	}
	return Timecode{rate: r, counting: counting, frame: clk.frame(clk.nominal*(60*minutes+sec) + f)}, nil
}

// fields takes a label apart and checks each part against its range.
func (c clock) fields(text string) (h, m, s, f int64, err error) {
	separator := ":"
	if c.drop > 0 {
		separator = ";"
	}
	last := strings.LastIndex(text, separator)
	if last < 0 {
		return 0, 0, 0, 0, c.notALabel(text)
	}
	parts := append(strings.Split(text[:last], ":"), text[last+1:])
	if len(parts) != 4 {
		return 0, 0, 0, 0, c.notALabel(text)
	}
	limits := [4]struct {
		name   string
		digits int
		below  int64
	}{{"hours", 2, 24}, {"minutes", 2, 60}, {"seconds", 2, 60}, {"frames", c.frameDigits(), c.nominal}}
	var v [4]int64
	for i, limit := range limits {
		if !digits(parts[i]) || len(parts[i]) != limit.digits {
			return 0, 0, 0, 0, c.notALabel(text)
		}
		v[i], _ = strconv.ParseInt(parts[i], 10, 64) // two or three digits
		if v[i] >= limit.below {
			return 0, 0, 0, 0, inputError(text, limit.name+" are out of range",
				fmt.Sprintf("%s from 0 to %d", limit.name, limit.below-1))
		}
	}
	return v[0], v[1], v[2], v[3], nil
}

func (c clock) notALabel(text string) error {
	return inputError(text, "not a time code label",
		fmt.Sprintf("a label like %q", c.format(c.nominal*3600*10)))
}

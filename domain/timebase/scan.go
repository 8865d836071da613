package timebase

import (
	"fmt"
	"strconv"
)

// An interlaced frame is two fields. Fields come at 47.952 to 60 a second: below,
// a tube flickered, and above 60 production formats are progressive (BT.709-6
// lists interlaced systems at 25, 30/1.001 and 30 frames and no others; the 24s
// are cinema material carried as PsF).
var (
	minInterlaced = Rate{24000, 1001}
	maxInterlaced = Rate{30, 1}
)

// CheckScan refuses a frame rate that a scan cannot have; the error is an
// *InputError that says what is meant.
//
// Progressive scans have any rate. Interlaced and PsF frames come at 24000/1001 to
// 30 a second: 50, 59.94 and 60 are counts of fields, and 12.5 or 14.985 come of
// halving twice.
func CheckScan(scan Scan, rate Rate) error {
	if rate.IsZero() {
		return inputError("", "the frame rate is missing", anyRate)
	}
	switch scan {
	case Progressive:
		return nil
	case Interlaced, PsF:
	default:
		return inputError(string(scan), "not a scan", `"progressive", "interlaced" or "psf"`)
	}
	switch {
	case rate.Cmp(maxInterlaced) > 0:
		return refuseFields(scan, rate)
	case rate.Cmp(minInterlaced) < 0:
		return inputError(rate.Label(), fmt.Sprintf("the frame rate of %s scan is 23.976 to 30 frames per second", scan.article()),
			fmt.Sprintf("whole frames per second: %s is 29.97 frames", Format{1080, scan, Rate{30000, 1001}}))
	}
	return nil
}

// refuseFields explains a frame rate above 30 by the example that has it: of
// 59.94, that 1080i59.94 is 29.97 frames.
func refuseFields(scan Scan, rate Rate) error {
	example := Rate{30000, 1001}
	if half, err := NewRate(rate.num, 2*rate.den); err == nil && half.Cmp(maxInterlaced) <= 0 && half.Cmp(minInterlaced) >= 0 {
		example = half
	}
	return inputError(rate.Label(),
		fmt.Sprintf("the frame rate of %s scan counts whole frames: %s is %s frames",
			scan.article(), Format{1080, scan, example}, example.Label()),
		fmt.Sprintf("%s, or the scan %q", strconv.Quote(example.String()), Progressive))
}

func (s Scan) article() string {
	if s == Interlaced {
		return "an interlaced"
	}
	return "a " + string(s)
}

// CheckFormat refuses a scan or a frame rate that a format's name contradicts:
// a mode states all three. The error is an *InputError.
func CheckFormat(f Format, scan Scan, rate Rate) error {
	if err := CheckScan(scan, rate); err != nil {
		return err
	}
	switch {
	case scan != f.Scan:
		return inputError(string(scan), fmt.Sprintf("the format %s has %s scan", f, f.Scan.article()),
			strconv.Quote(string(f.Scan)))
	case rate != f.Rate:
		return inputError(rate.Label(), fmt.Sprintf("%s is %s frames", f, f.Rate.Label()),
			strconv.Quote(f.Rate.String()))
	}
	return nil
}

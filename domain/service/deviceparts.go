package service

import (
	"context"
	"fmt"
	"slices"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/timebase"
)

// NewMode is what a new mode of a device needs.
type NewMode struct {
	Slug       string
	Format     string
	Scan       string
	FrameRate  string
	Firmware   string
	Processing string
	Port       string
	Shutter    string
	Direct     []string
	Varies     bool
}

// NewControl is what a new control of a device needs.
type NewControl struct {
	Slug       string
	Signal     string
	Unit       string
	Rate       string
	SampleRate *int64
	Step       string // decimal; empty: 1
	Min        string // decimal; empty: 0
	Max        string // decimal
	Where      string
	ActsOn     string
	EngagedMS  *float64
	Ours       *bool // nil: true
}

// NewUnit is what a new unit of a device needs.
type NewUnit struct {
	Tag   string
	Notes string
}

// AddMode adds a mode to a device. It needs the role editor.
func (s *Service) AddMode(ctx context.Context, r Request, device string, in NewMode) (*domain.Device, error) {
	return s.editDevice(ctx, r, device, nil, func(_ *book.Book, d *domain.Device) error {
		var bad domain.Fields
		s.addMode(&bad, "", d, in)
		return bad.Err("The mode is not valid.")
	})
}

// AddControl adds a control to a device. It needs the role editor.
func (s *Service) AddControl(ctx context.Context, r Request, device string, in NewControl) (*domain.Device, error) {
	return s.editDevice(ctx, r, device, nil, func(_ *book.Book, d *domain.Device) error {
		var bad domain.Fields
		s.addControl(&bad, "", d, in)
		return bad.Err("The control is not valid.")
	})
}

// AddUnit adds a unit to a device. It needs the role editor.
func (s *Service) AddUnit(ctx context.Context, r Request, device string, in NewUnit) (*domain.Device, error) {
	return s.editDevice(ctx, r, device, nil, func(_ *book.Book, d *domain.Device) error {
		var bad domain.Fields
		s.addUnit(&bad, "", d, in)
		return bad.Err("The unit is not valid.")
	})
}

// A Part is a kind of part of a device.
type Part string

// The parts that can be retired.
const (
	ModePart    Part = "mode"
	ControlPart Part = "control"
	UnitPart    Part = "unit"
)

// RetirePart retires a mode or control (by slug) or a unit (by tag): rigs that
// have it keep it, new revisions can not take it. It needs the role editor.
func (s *Service) RetirePart(ctx context.Context, r Request, device string, part Part, name string) (*domain.Device, error) {
	return s.editDevice(ctx, r, device, nil, func(_ *book.Book, d *domain.Device) error {
		if m, ok := d.Mode(domain.Slug(name)); ok && part == ModePart {
			m.Retired = true
			return nil
		}
		if c, ok := d.Control(domain.Slug(name)); ok && part == ControlPart {
			c.Retired = true
			return nil
		}
		if u, ok := d.Unit(name); ok && part == UnitPart {
			u.Retired = true
			return nil
		}
		return domain.Errorf(domain.NotFound, "The device has no %s %q.", part, name)
	})
}

func (s *Service) addMode(bad *domain.Fields, at string, d *domain.Device, in NewMode) {
	m := domain.Mode{
		ID: domain.ModeID{UUID: s.newID()}, Slug: checkSlug(bad, at+"/slug", in.Slug),
		Format: in.Format, Firmware: in.Firmware, Processing: in.Processing, Port: in.Port, Shutter: in.Shutter,
		FrameRate: checkRate(bad, at+"/frame_rate", in.FrameRate), Varies: in.Varies,
	}
	if _, taken := d.Mode(m.Slug); taken {
		bad.Add(at+"/slug", "the device has a mode of that slug", "another slug")
	}
	for field, text := range map[string]string{
		"format": in.Format, "firmware": in.Firmware, "processing": in.Processing, "port": in.Port, "shutter": in.Shutter,
	} {
		checkText(bad, at+"/"+field, text, optional)
	}
	checkPicture(bad, at, &m, in)
	for i, text := range in.Direct {
		signal := domain.Signal(text)
		bad.Check(signal.Valid(), fmt.Sprintf("%s/direct/%d", at, i), "there is no such signal", "picture or sound")
		if !slices.Contains(m.Direct, signal) {
			m.Direct = append(m.Direct, signal)
		}
	}
	d.Modes = append(d.Modes, m)
}

// checkPicture makes format, scan and frame rate agree, and fills in what a
// format says of the other two.
func checkPicture(bad *domain.Fields, at string, m *domain.Mode, in NewMode) {
	if in.Scan != "" {
		scan, err := timebase.ParseScan(in.Scan)
		addInputError(bad, at+"/scan", err)
		m.Scan = scan
	}
	if m.Scan != "" && !m.FrameRate.IsZero() {
		if err := timebase.CheckScan(m.Scan, m.FrameRate); err != nil {
			addInputError(bad, at+"/frame_rate", err)
			return
		}
	}
	if in.Format == "" {
		return
	}
	format, err := timebase.ParseFormat(in.Format)
	if err != nil {
		addInputError(bad, at+"/format", err)
		return
	}
	if m.Scan == "" {
		m.Scan = format.Scan
	}
	if in.FrameRate == "" {
		m.FrameRate = format.Rate
	}
	if !m.FrameRate.IsZero() {
		if err := timebase.CheckFormat(format, m.Scan, m.FrameRate); err != nil {
			addInputError(bad, at+"/frame_rate", err)
		}
	}
}

func (s *Service) addUnit(bad *domain.Fields, at string, d *domain.Device, in NewUnit) {
	u := domain.Unit{ID: domain.UnitID{UUID: s.newID()}, Tag: checkText(bad, at+"/tag", in.Tag, required), Notes: in.Notes}
	checkText(bad, at+"/notes", in.Notes, optional)
	if _, taken := d.Unit(u.Tag); taken {
		bad.Add(at+"/tag", "the device has a unit of that tag", "another tag")
	}
	d.Units = append(d.Units, u)
}

// maxSteps is the most values of a control. A control of 1 ms steps up to ten
// seconds has ten thousand.
const maxSteps = 1_000_000

func (s *Service) addControl(bad *domain.Fields, at string, d *domain.Device, in NewControl) {
	c := domain.Control{
		ID: domain.ControlID{UUID: s.newID()}, Slug: checkSlug(bad, at+"/slug", in.Slug),
		Signal: domain.Signal(in.Signal), Unit: domain.ControlUnit(in.Unit), Rate: checkRate(bad, at+"/rate", in.Rate),
		Step: checkDecimal(bad, at+"/step", in.Step, "1"), Min: checkDecimal(bad, at+"/min", in.Min, "0"),
		Where: checkText(bad, at+"/where", in.Where, optional), ActsOn: checkText(bad, at+"/acts_on", in.ActsOn, optional),
		Ours: in.Ours == nil || *in.Ours,
	}
	if _, taken := d.Control(c.Slug); taken {
		bad.Add(at+"/slug", "the device has a control of that slug", "another slug")
	}
	bad.Check(c.Signal.Valid(), at+"/signal", fmt.Sprintf("%q is not a signal", short(in.Signal)), "picture or sound")
	checkControlUnit(bad, at, &c, in)
	if in.Max == "" {
		bad.Add(at+"/max", "it is missing", "the largest value of the control, in its unit")
	} else {
		c.Max = checkDecimal(bad, at+"/max", in.Max, "")
	}
	checkGrid(bad, at, &c)
	checkNumber(bad, at+"/engaged_ms", in.EngagedMS, 0, maxOffsetMS, "a delay in ms")
	if in.EngagedMS != nil {
		c.EngagedMS = *in.EngagedMS
	}
	d.Controls = append(d.Controls, c)
}

func checkControlUnit(bad *domain.Fields, at string, c *domain.Control, in NewControl) {
	if in.SampleRate != nil {
		rate, err := timebase.NewSampleRate(*in.SampleRate)
		addInputError(bad, at+"/sample_rate", err)
		c.SampleRate = rate
	}
	switch c.Unit {
	case domain.UnitFrame:
		bad.Check(in.SampleRate == nil, at+"/sample_rate", "the control counts frames", "no sample_rate, or unit sample")
	case domain.UnitMS:
		bad.Check(in.SampleRate == nil, at+"/sample_rate", "the control counts ms", "no sample_rate, or unit sample")
		bad.Check(in.Rate == "", at+"/rate", "the control counts ms", "no rate, or unit frame")
	case domain.UnitSample:
		bad.Check(in.SampleRate != nil, at+"/sample_rate", "it is missing", "samples per second, such as 48000")
		bad.Check(in.Rate == "", at+"/rate", "the control counts samples", "no rate, or unit frame")
	default:
		bad.Add(at+"/unit", fmt.Sprintf("%q is not a unit of controls", short(in.Unit)), "frame, ms or sample")
	}
}

func checkGrid(bad *domain.Fields, at string, c *domain.Control) {
	switch {
	case !c.Step.IsPositive():
		bad.Add(at+"/step", "it is not positive", "the smallest change of the control, in its unit")
	case c.Min.IsNegative():
		bad.Add(at+"/min", "a control can not take delay away", "0 or more")
	case c.Max.LessThan(c.Min):
		bad.Add(at+"/max", "it is less than min", "the largest value of the control, in its unit")
	case !c.OnGrid(c.Max):
		bad.Add(at+"/max", "it is not a whole number of steps above min", "a value that the control can have")
	case c.Max.Sub(c.Min).Div(c.Step).IntPart() > maxSteps:
		bad.Add(at+"/step", "the control would have more than a million values", "a larger step or a smaller range")
	}
}

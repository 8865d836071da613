package bookfile

import (
	"cmp"
	"fmt"

	"delaybook/domain/estimate"
)

// Book returns the book in the words of package estimate. Struck measurements
// and stated values are left out.
func (f *File) Book() (estimate.Book, error) {
	var b estimate.Book
	for _, d := range f.Devices {
		b.Devices = append(b.Devices, d.book())
	}
	for _, r := range f.Rigs {
		b.Rigs = append(b.Rigs, r.book())
	}
	for i, m := range f.Measurements {
		if isStruck(m.Struck) {
			continue
		}
		out, err := m.book(fmt.Sprintf("/measurements/%d", i))
		if err != nil {
			return b, err
		}
		b.Measurements = append(b.Measurements, out)
	}
	for i, s := range f.Stated {
		if isStruck(s.Struck) {
			continue
		}
		out, err := s.book(fmt.Sprintf("/stated/%d", i))
		if err != nil {
			return b, err
		}
		b.Stated = append(b.Stated, out)
	}
	for _, c := range f.CardSources {
		b.CardSources = append(b.CardSources, estimate.CardSource{Slug: c.Slug, ValueMS: c.StatedMS, UMS: c.UMS})
	}
	for _, v := range f.Variances {
		b.Variances = append(b.Variances, estimate.Variance{
			Class: v.Class, MS2: v.MS2, PriorMS2: v.S0, NuPrior: v.Nu0, Phase: estimate.PhaseRule(v.Phase),
		})
	}
	return b, nil
}

func isStruck(x any) bool { return x != nil && x != false }

func (d device) book() estimate.Device {
	out := estimate.Device{Slug: d.Slug, Kind: d.Kind}
	for _, m := range d.Modes {
		mode := estimate.Mode{Slug: m.Slug, FrameRate: m.FrameRate, Varies: m.Varies}
		for _, s := range m.Direct {
			mode.Direct = append(mode.Direct, estimate.Signal(s))
		}
		out.Modes = append(out.Modes, mode)
	}
	for _, c := range d.Controls {
		out.Controls = append(out.Controls, estimate.Control{
			Slug: c.Slug, Signal: estimate.Signal(c.Signal), Unit: estimate.ControlUnit(c.Unit), Rate: c.Rate,
			SampleRate: c.SampleRate, EngagedMS: c.EngagedMS,
		})
	}
	return out
}

func (r rig) book() estimate.Rig {
	out := estimate.Rig{ID: r.Slug, FrameRate: r.FrameRate}
	for _, c := range r.Chains {
		out.Chains = append(out.Chains, estimate.Chain{
			Slug: c.Slug, Signal: estimate.Signal(c.Signal), AirM: c.AirM, Stages: stages(c.Stages),
		})
	}
	for _, d := range r.Destinations {
		out.Destinations = append(out.Destinations, estimate.Destination{
			Slug: d.Slug, AirM: d.AirM, Picture: stages(d.Picture), Sound: stages(d.Sound),
		})
	}
	return out
}

func stages(in []stage) []estimate.Stage {
	var out []estimate.Stage
	for _, s := range in {
		st := estimate.Stage{Device: s.Device, Mode: s.Mode, Unit: s.Unit, Timing: estimate.Timing(s.Timing)}
		for _, c := range s.Controls {
			st.Controls = append(st.Controls, estimate.StageControl{Control: c.Control, Name: c.Name})
		}
		out = append(out, st)
	}
	return out
}

func (m measurement) book(at string) (estimate.Measurement, error) {
	first, second, err := sides(at, m.Picture, m.Sound, m.First, m.Second)
	out := estimate.Measurement{
		ID: m.ID, Rig: m.Rig, First: first, Second: second, ReadAt: m.ReadAt, Method: estimate.Method(m.Method),
		Eye: estimate.EyeRule(m.Eye), FrameRate: m.FrameRate, CardSource: m.CardSource, PowerUp: m.PowerUp,
		DistanceM: m.DistanceM, AirC: m.AirC, TakenAt: m.TakenAt, EventSDMS: m.EventSDMS, Settings: settings(m.Settings),
	}
	for _, r := range m.Readings {
		out.Readings = append(out.Readings, estimate.Reading{
			Frames: r.Frames, Heard: estimate.Heard(r.Heard), OffsetMS: r.OffsetMS, UMS: r.UMS, AtS: r.AtS,
		})
	}
	return out, err
}

// sides returns the two chains of picture and sound, or of first and second.
func sides(at, picture, sound, first, second string) (a, b string, err error) {
	a, b = cmp.Or(picture, first), cmp.Or(sound, second)
	if a == "" || b == "" || picture != "" && first != "" || sound != "" && second != "" {
		return "", "", fmt.Errorf("%s: it does not say which two chains are compared: send picture and sound, or first and second", at)
	}
	return a, b, nil
}

func settings(in []setting) []estimate.Setting {
	var out []estimate.Setting
	for _, s := range in {
		out = append(out, estimate.Setting{Control: s.Control, Value: s.Value})
	}
	return out
}

func (s stated) book(at string) (estimate.Stated, error) {
	out := estimate.Stated{
		ID: s.ID, Device: s.Device, Mode: s.Mode, Signal: estimate.Signal(s.Signal), ValueMS: s.ValueMS, UMS: s.UMS,
		HalfWidthMS: s.HalfWidthMS, Source: s.Source,
	}
	switch len(s.Difference) {
	case 0:
	case 2:
		out.Difference = &[2]estimate.Signal{estimate.Signal(s.Difference[0]), estimate.Signal(s.Difference[1])}
	default:
		return out, fmt.Errorf("%s/difference: it has %d signals: send two, first minus second", at, len(s.Difference))
	}
	return out, nil
}

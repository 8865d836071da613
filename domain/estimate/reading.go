package estimate

import (
	"cmp"
	"fmt"
	"math"
)

// A style is how the readings of a measurement carry their uncertainty.
type style int

const (
	counted  style = iota // by eye: whole or half frames, resolution one frame of the recording
	weighted              // every reading with its standard uncertainty
	listed                // neither: the scatter of the list speaks
)

// values returns the readings of a measurement as offsets in ms, with their
// standard uncertainties when every reading has one.
func (m *Measurement) values(rig *Rig, at string) (values, us []float64, s style, err error) {
	if len(m.Readings) == 0 {
		return nil, nil, 0, fault(at+".Readings", "at least one reading", "measurement %s has no readings", m.ID)
	}
	frame := rateOf(m.FrameRate, rig.FrameRate).FrameMS()
	values = make([]float64, 0, len(m.Readings))
	for i, r := range m.Readings {
		v, err := r.value(m.Method, frame, "")
		if err != nil { // once more, for the place
			_, err = r.value(m.Method, frame, fmt.Sprintf("%s.Readings[%d]", at, i))
			return nil, nil, 0, err
		}
		values = append(values, v)
		if r.UMS != nil {
			us = append(us, *r.UMS)
		}
	}
	switch {
	case len(us) == len(values):
		return values, us, weighted, nil
	case len(us) > 0:
		return nil, nil, 0, fault(at+".Readings", "u_ms with every reading or with none",
			"%d of %d readings of measurement %s have an uncertainty", len(us), len(values), m.ID)
	case m.Method == Eye || m.Method == Clap:
		return values, nil, counted, nil
	}
	return values, nil, listed, nil
}

func (r *Reading) value(method Method, frame float64, at string) (float64, error) {
	if r.UMS != nil && (r.OffsetMS == nil || !(*r.UMS > 1e-6 && *r.UMS < largest)) {
		return 0, fault(at, "an offset in ms with an uncertainty above 0", "the uncertainty of a reading belongs to an offset in ms")
	}
	if r.AtS != nil && !(math.Abs(*r.AtS) < largest) {
		return 0, fault(at, "seconds into the recording", "%v is no time", *r.AtS)
	}
	switch {
	case r.OffsetMS != nil && r.Frames == nil && r.Heard == "":
		if !(math.Abs(*r.OffsetMS) < largest) {
			return 0, fault(at, "milliseconds, first minus second", "%v is no offset", *r.OffsetMS)
		}
		return *r.OffsetMS, nil
	case r.OffsetMS == nil && r.Frames != nil:
		return r.countedValue(method, frame, at)
	}
	return 0, fault(at, "either frames with early, late or in-sync, or offset_ms", "a reading is one count of frames or one offset in ms")
}

func (r *Reading) countedValue(method Method, frame float64, at string) (float64, error) {
	f := *r.Frames
	if method != Eye && method != Clap {
		return 0, fault(at, "offset_ms", "frames are counted by eye or at a clap, not by %s", method)
	}
	if !(f >= 0 && f*frame < largest) || 2*f != math.Trunc(2*f) {
		return 0, fault(at, "frames in halves, 0 or more, and the side on which the sound was heard", "%v is no count of frames", f)
	}
	switch {
	case r.Heard == Early:
		return f * frame, nil
	case r.Heard == Late:
		return -f * frame, nil
	case r.Heard == InSync && f == 0:
		return 0, nil
	case r.Heard == InSync:
		return 0, fault(at, `0 frames in-sync, or "early" or "late"`, "%v frames are not in sync", f)
	}
	return 0, fault(at, `"early", "late" or "in-sync"`, "a count of frames says on which side the sound was heard, not %q", r.Heard)
}

// check reports what a measurement lacks on its own.
func (m *Measurement) check(at string) error {
	switch m.Method {
	case Eye, Clip, Tracks, Clap:
	default:
		return fault(at+".Method", `"eye", "clip", "tracks" or "clap"`, "%q is no method", m.Method)
	}
	switch m.Eye {
	case "", OneSide, BothSides, EyeUnknown:
	default:
		return fault(at+".Eye", `"one-side", "both-sides" or "unknown"`, "%q is no eye rule", m.Eye)
	}
	switch {
	case m.ID == "":
		return fault(at+".ID", "an ID that no other measurement has", "a measurement has no ID")
	case m.PowerUp == "":
		return fault(at+".PowerUp", "the label of its power-up", "measurement %s belongs to no power-up", m.ID)
	case m.CardSource != "" && (m.Method == Clap || m.Method == Tracks):
		return fault(at+".CardSource", "no card source with clap and tracks", "a measurement by %s has no card", m.Method)
	case m.DistanceM != nil && !(math.Abs(*m.DistanceM) < largest):
		return fault(at+".DistanceM", "metres", "%v is no distance", *m.DistanceM)
	case m.AirC != nil && !(*m.AirC > -90 && *m.AirC < 90):
		return fault(at+".AirC", "degrees Celsius, or nothing when unknown", "%v is no temperature of air", *m.AirC)
	case !(m.EventSDMS >= 0 && m.EventSDMS < largest):
		return fault(at+".EventSDMS", "milliseconds, 0 or more", "%v is no spread", m.EventSDMS)
	}
	return nil
}

// delay returns what a dial adds to its path, ms.
func (d *dial) delay(value float64) float64 {
	if value == 0 {
		return 0
	}
	ms := d.control.EngagedMS
	switch d.control.Unit {
	case FrameUnit:
		return ms + value*d.rate.FrameMS()
	case SampleUnit:
		return ms + value*1000/float64(d.control.SampleRate.Hz())
	}
	return ms + value
}

// settings reads the values of controls. Every name must exist in the rig.
func (p *pair) settings(list []Setting, at string) (map[string]float64, error) {
	if len(list) == 0 {
		return nil, nil
	}
	out := make(map[string]float64, len(list))
	for i, s := range list {
		path := func() string { return fmt.Sprintf("%sSettings[%d]", at, i) }
		if !p.rig.hasControl(s.Control) {
			return nil, fault(path(), "a control of rig "+p.rig.ID, "rig %s has no control %q", p.rig.ID, s.Control)
		}
		if _, twice := out[s.Control]; twice {
			return nil, fault(path(), "each control once", "control %q is set twice", s.Control)
		}
		if !(math.Abs(s.Value) < largest) {
			return nil, fault(path(), "a value in the control's unit", "%v is no setting", s.Value)
		}
		out[s.Control] = s.Value
	}
	return out, nil
}

func (r *Rig) hasControl(name string) bool {
	in := func(stages []Stage) bool {
		for _, s := range stages {
			for _, k := range s.Controls {
				if cmp.Or(k.Name, k.Control) == name {
					return true
				}
			}
		}
		return false
	}
	for i := range r.Chains {
		if in(r.Chains[i].Stages) {
			return true
		}
	}
	for i := range r.Destinations {
		if in(r.Destinations[i].Picture) || in(r.Destinations[i].Sound) {
			return true
		}
	}
	return false
}

// dialled returns the delay of the first path minus that of the second at given
// settings, ms, and the names of the pair's controls without a setting.
func (p *pair) dialled(values map[string]float64) (ms float64, missing []string) {
	p.sides(func(l *link, sign int) {
		for i := range l.dials {
			v, ok := values[l.dials[i].name]
			if !ok {
				missing = append(missing, l.dials[i].name)
				continue
			}
			ms += float64(sign) * l.dials[i].delay(v)
		}
	})
	return ms, missing
}

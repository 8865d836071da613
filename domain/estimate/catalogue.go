package estimate

import (
	"cmp"
	"fmt"
	"math"
)

// A catalogue finds devices, modes, rigs, chains and controls by name.
type catalogue struct {
	devices map[string]*Device
	modes   map[[2]string]*Mode
	rigs    map[string]*Rig
	kept    map[*Rig]bool       // rigs that stay as they are
	lasting map[pairNames]*pair // their pairs
	pairs   map[pairNames]*pair // those of other rigs; see pairOnce
}

func (c *catalogue) addDevice(d *Device, path string) error {
	if d.Slug == "" || c.devices[d.Slug] != nil {
		return fault(path, "a slug that no other device has", "the device slug %q is empty or taken", d.Slug)
	}
	c.devices[d.Slug] = d
	for j := range d.Modes {
		m := &d.Modes[j]
		key := [2]string{d.Slug, m.Slug}
		if m.Slug == "" || c.modes[key] != nil {
			return fault(fmt.Sprintf("%s.Modes[%d]", path, j), "a slug that no other mode of the device has",
				"the mode slug %q is empty or taken", m.Slug)
		}
		for _, s := range m.Direct {
			if s != Picture && s != Sound {
				return fault(fmt.Sprintf("%s.Modes[%d].Direct", path, j), `"picture" or "sound"`, "%q is no signal", s)
			}
		}
		c.modes[key] = m
	}
	seen := map[string]bool{}
	for j := range d.Controls {
		if err := checkControl(&d.Controls[j], seen, fmt.Sprintf("%s.Controls[%d]", path, j)); err != nil {
			return err
		}
	}
	return nil
}

func checkControl(k *Control, seen map[string]bool, path string) error {
	switch {
	case k.Slug == "" || seen[k.Slug]:
		return fault(path, "a slug that no other control of the device has", "the control slug %q is empty or taken", k.Slug)
	case k.Signal != Picture && k.Signal != Sound:
		return fault(path+".Signal", `"picture" or "sound"`, "%q is no signal", k.Signal)
	case k.Unit != FrameUnit && k.Unit != MSUnit && k.Unit != SampleUnit:
		return fault(path+".Unit", `"frame", "ms" or "sample"`, "%q is no control unit", k.Unit)
	case k.Unit == SampleUnit && k.SampleRate.IsZero():
		return fault(path+".SampleRate", "the sample rate, like 48000", "a control in samples needs a sample rate")
	case !(math.Abs(k.EngagedMS) < largest):
		return fault(path+".EngagedMS", "milliseconds", "%v is no delay", k.EngagedMS)
	}
	seen[k.Slug] = true
	return nil
}

// largest bounds every duration in ms and every length in metres: a day. Beyond
// it an entry is a slip and squares lose their digits.
const largest = 86_400_000

// addRig adds a rig that checkRig has passed.
func (c *catalogue) addRig(r *Rig, path string) error {
	if r.ID == "" || c.rigs[r.ID] != nil {
		return fault(path, "an ID that no other rig has", "the rig ID %q is empty or taken", r.ID)
	}
	c.rigs[r.ID] = r
	return nil
}

// checkRig reports what is wrong with a rig on its own.
func (c *catalogue) checkRig(r *Rig, path string) error {
	if r.FrameRate.IsZero() {
		return fault(path+".FrameRate", `a rate like "30000/1001"`, "rig %s has no frame rate", r.ID)
	}
	seen := map[string]bool{Live: true}
	controls := map[string]string{}
	for i, ch := range r.Chains {
		at := fmt.Sprintf("%s.Chains[%d]", path, i)
		if ch.Slug == "" || seen[ch.Slug] {
			return fault(at, "a slug that no other chain of the rig has; live exists without saying", "the chain slug %q is empty or taken", ch.Slug)
		}
		seen[ch.Slug] = true
		if err := c.checkStages(ch.Stages, ch.Signal, controls, at+".Stages"); err != nil {
			return err
		}
		if !(math.Abs(ch.AirM) < largest) {
			return fault(at+".AirM", "metres", "%v is no length", ch.AirM)
		}
	}
	return c.checkDestinations(r, controls, path)
}

func (c *catalogue) checkDestinations(r *Rig, controls map[string]string, path string) error {
	seen := map[string]bool{}
	for i, d := range r.Destinations {
		at := fmt.Sprintf("%s.Destinations[%d]", path, i)
		if d.Slug == "" || seen[d.Slug] {
			return fault(at, "a slug that no other destination of the rig has", "the destination slug %q is empty or taken", d.Slug)
		}
		seen[d.Slug] = true
		if err := c.checkStages(d.Picture, Picture, controls, at+".Picture"); err != nil {
			return err
		}
		if err := c.checkStages(d.Sound, Sound, controls, at+".Sound"); err != nil {
			return err
		}
		if !(math.Abs(d.AirM) < largest) {
			return fault(at+".AirM", "metres", "%v is no length", d.AirM)
		}
	}
	return nil
}

func (c *catalogue) checkStages(stages []Stage, signal Signal, controls map[string]string, path string) error {
	if signal != Picture && signal != Sound {
		return fault(path, `a chain with signal "picture" or "sound"`, "%q is no signal", signal)
	}
	for i, s := range stages {
		at := fmt.Sprintf("%s[%d]", path, i)
		if c.devices[s.Device] == nil {
			return fault(at+".Device", "a device of the book", "there is no device %q", s.Device)
		}
		if c.modes[[2]string{s.Device, s.Mode}] == nil {
			return fault(at+".Mode", "a mode of device "+s.Device, "device %s has no mode %q", s.Device, s.Mode)
		}
		switch s.Timing {
		case "", HouseTiming, FreeTiming, UnknownTiming:
		default:
			return fault(at+".Timing", `"house", "free" or "unknown"`, "%q is no timing", s.Timing)
		}
		for j, k := range s.Controls {
			if err := c.checkStageControl(s, k, signal, controls, fmt.Sprintf("%s.Controls[%d]", at, j)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (c *catalogue) checkStageControl(s Stage, k StageControl, signal Signal, controls map[string]string, path string) error {
	control := c.control(s.Device, k.Control)
	if control == nil {
		return fault(path, "a control of device "+s.Device, "device %s has no control %q", s.Device, k.Control)
	}
	if control.Signal != signal {
		return fault(path, fmt.Sprintf("a %s control", signal), "control %s of device %s delays %s and stands in a %s chain",
			k.Control, s.Device, control.Signal, signal)
	}
	name := cmp.Or(k.Name, k.Control)
	is := s.Device + "\x00" + s.Unit + "\x00" + k.Control
	if was, ok := controls[name]; ok && was != is {
		return fault(path, "a name of its own", "the control name %q stands for two controls of the rig", name)
	}
	controls[name] = is
	return nil
}

func (c *catalogue) control(device, slug string) *Control {
	d := c.devices[device]
	for i := range d.Controls {
		if d.Controls[i].Slug == slug {
			return &d.Controls[i]
		}
	}
	return nil
}

package service

import (
	"fmt"
	"slices"
	"strings"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/estimate"
)

// estimateBook returns all facts of the book that latencies and offsets rest
// on, in the words of package estimate. Struck measurements and stated values
// are left out; deleted rigs and retired devices are not: what was measured of
// them holds.
func estimateBook(b *book.Book) estimate.Book {
	var e estimate.Book
	names := deviceNames(b)
	for _, d := range b.Devices() {
		e.Devices = append(e.Devices, estimateDevice(names, d))
	}
	for _, r := range b.Rigs() {
		used := map[int]bool{}
		for _, m := range r.Measurements {
			if m.Struck == nil {
				used[m.Revision] = true
				e.Measurements = append(e.Measurements, estimateMeasurement(r, m))
			}
		}
		for i := range r.Revisions {
			if rev := &r.Revisions[i]; used[rev.Number] || rev == r.Current() && !r.Deleted {
				e.Rigs = append(e.Rigs, estimateRig(b, names, r, rev))
			}
		}
	}
	for _, v := range b.StatedValues() {
		if v.Struck == nil {
			e.Stated = append(e.Stated, estimateStated(b, names, v))
		}
	}
	if v := b.Variances(); v != nil {
		for _, row := range v.Rows {
			e.Variances = append(e.Variances, estimate.Variance{
				Class: row.Class, MS2: row.MS2, PriorMS2: row.PriorMS2, NuPrior: row.NuPrior, Phase: estimate.PhaseRule(row.Phase),
			})
		}
	}
	for _, c := range b.CardSources() {
		e.CardSources = append(e.CardSources, estimate.CardSource{Slug: string(c.Slug), ValueMS: c.StatedMS, UMS: c.UMS})
	}
	return e
}

// deviceNames gives every device a name that is unique in the book: its slug,
// and more where a retired device left its slug to another.
func deviceNames(b *book.Book) map[domain.DeviceID]string {
	names := map[domain.DeviceID]string{}
	for _, d := range b.Devices() {
		if names[d.ID] = string(d.Slug); d.Retired {
			names[d.ID] += "~" + d.ID.String()
		}
	}
	return names
}

func estimateDevice(names map[domain.DeviceID]string, d *domain.Device) estimate.Device {
	out := estimate.Device{Slug: names[d.ID], Kind: string(d.Kind)}
	for i := range d.Modes {
		m := &d.Modes[i]
		mode := estimate.Mode{Slug: string(m.Slug), FrameRate: m.FrameRate, Varies: m.Varies}
		for _, s := range m.Direct {
			mode.Direct = append(mode.Direct, estimate.Signal(s))
		}
		out.Modes = append(out.Modes, mode)
	}
	for i := range d.Controls {
		c := &d.Controls[i]
		out.Controls = append(out.Controls, estimate.Control{
			Slug: string(c.Slug), Signal: estimate.Signal(c.Signal), Unit: estimate.ControlUnit(c.Unit),
			Rate: c.Rate, SampleRate: c.SampleRate, EngagedMS: c.EngagedMS,
		})
	}
	return out
}

// rigKey names one revision of a rig in package estimate.
func rigKey(id domain.RigID, revision int) string { return fmt.Sprintf("%s@%d", id, revision) }

func estimateRig(b *book.Book, names map[domain.DeviceID]string, r *book.Rig, rev *domain.Revision) estimate.Rig {
	out := estimate.Rig{ID: rigKey(r.ID, rev.Number), Slug: r.ID.String(), FrameRate: rev.Layout.FrameRate}
	for _, c := range rev.Layout.Chains {
		out.Chains = append(out.Chains, estimate.Chain{
			Slug: string(c.Slug), Signal: estimate.Signal(c.Signal), AirM: c.AirM, Stages: estimateStages(b, names, c.Stages),
		})
	}
	for _, d := range rev.Layout.Destinations {
		out.Destinations = append(out.Destinations, estimate.Destination{
			Slug: string(d.Slug), AirM: d.AirM,
			Picture: estimateStages(b, names, d.Picture), Sound: estimateStages(b, names, d.Sound),
		})
	}
	return out
}

func estimateStages(b *book.Book, names map[domain.DeviceID]string, stages []domain.Stage) []estimate.Stage {
	var out []estimate.Stage
	for _, s := range stages {
		d, _ := b.Device(s.Device)
		stage := estimate.Stage{Device: names[s.Device], Timing: estimate.Timing(s.Timing)}
		if m, ok := d.ModeByID(s.Mode); ok {
			stage.Mode = string(m.Slug)
		}
		if u, ok := d.UnitByID(s.Unit); ok {
			stage.Unit = u.Tag
		}
		for _, use := range s.Controls {
			if c, ok := d.ControlByID(use.Control); ok {
				stage.Controls = append(stage.Controls, estimate.StageControl{Control: string(c.Slug), Name: string(use.Name)})
			}
		}
		out = append(out, stage)
	}
	return out
}

func estimateMeasurement(r *book.Rig, m *domain.Measurement) estimate.Measurement {
	out := estimate.Measurement{
		ID: m.ID.String(), Rig: rigKey(m.Rig, m.Revision), First: string(m.First), Second: string(m.Second),
		ReadAt: string(m.ReadAt), Method: estimate.Method(m.Method), Eye: estimate.EyeRule(m.Eye), FrameRate: m.FrameRate,
		CardSource: string(m.CardSource), PowerUp: m.PowerUp.String(), DistanceM: m.DistanceM, AirC: m.AirC, TakenAt: m.TakenAt,
	}
	if m.EventSDMS != nil {
		out.EventSDMS = *m.EventSDMS
	}
	for i := range m.Readings {
		out.Readings = append(out.Readings, estimateReading(&m.Readings[i]))
	}
	rev, _ := r.Revision(m.Revision)
	at, _ := rev.Layout.Destination(m.ReadAt)
	passed := append(rev.Layout.ControlsOf(m.First, m.FirstSig, at), rev.Layout.ControlsOf(m.Second, m.SecondSig, at)...)
	for _, s := range m.Settings {
		if slices.Contains(passed, s.Control) {
			out.Settings = append(out.Settings, estimate.Setting{Control: string(s.Control), Value: s.Value.InexactFloat64()})
		}
	}
	return out
}

func estimateReading(r *domain.Reading) estimate.Reading {
	out := estimate.Reading{UMS: r.UMS, AtS: r.AtS}
	if r.Frames == nil {
		out.OffsetMS = &r.OffsetMS
		return out
	}
	frames := r.Frames.InexactFloat64()
	out.Frames, out.Heard = &frames, estimate.Heard(r.Heard)
	return out
}

func estimateStated(b *book.Book, names map[domain.DeviceID]string, v *domain.Stated) estimate.Stated {
	out := estimate.Stated{
		ID: v.ID.String(), Device: names[v.Device], Signal: estimate.Signal(v.Signal),
		ValueMS: v.ValueMS, UMS: v.UMS, HalfWidthMS: v.HalfWidthMS, Source: v.Source,
	}
	d, _ := b.Device(v.Device)
	if m, ok := d.ModeByID(v.Mode); ok {
		out.Mode = string(m.Slug)
	}
	if v.Minus != "" {
		out.Signal, out.Difference = "", &[2]estimate.Signal{estimate.Signal(v.Signal), estimate.Signal(v.Minus)}
	}
	return out
}

// rigOfKey finds the rig that rigKey named.
func rigOfKey(b *book.Book, key string) (*book.Rig, bool) {
	id, _, _ := strings.Cut(key, "@")
	parsed, ok := parseID(id)
	if !ok {
		return nil, false
	}
	return b.Rig(domain.RigID{UUID: parsed})
}

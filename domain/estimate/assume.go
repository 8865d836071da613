package estimate

import (
	"maps"
	"math"
	"slices"
	"strings"
)

// maxStandIns bounds how many combinations of other modes are tried for one
// offset; three devices with four other modes each have 64.
const maxStandIns = 64

// assume looks for other modes of the devices whose latencies are missing, with
// which the offset would be determined, and gives the range from "the same in
// ms" to "the same in frames", widened by the half-width of the estimate.
func (s *Solution) assume(o *Offset, p *pair, w wanted) error {
	for _, choice := range s.standIns(o.Missing) {
		other := wanted{columns: maps.Clone(w.columns), units: w.units, kinds: w.kinds}
		from := choice[0]
		for _, c := range choice {
			other.columns[c.standIn] += other.columns[c.missing]
			delete(other.columns, c.missing)
			if math.Abs(math.Log(c.ratio)) > math.Abs(math.Log(from.ratio)) {
				from = c
			}
		}
		dropZero(other.columns)
		if len(s.missing(other)) > 0 {
			continue
		}
		e, err := s.estimate(s.find(other).sum, s.shift(p))
		if err != nil {
			return err
		}
		half := (e.Interval[1] - e.Interval[0]) / 2
		a, b := e.ValueMS, s.inFrames(e.ValueMS, w, choice, from.ratio)
		o.Basis = BasisAssumed
		o.Assumed = &Range{
			LowMS: min(a, b) - half, HighMS: max(a, b) + half, Device: from.device, Mode: from.mode, From: from.from, Signal: from.signal,
		}
		return nil
	}
	return nil
}

// inFrames takes an offset with stand-ins to what it is when they take as many
// frames in the modes asked for. Where a stand-in is known only together with
// the rest, the whole offset is taken to be its own.
func (s *Solution) inFrames(ms float64, w wanted, choice []standIn, ratio float64) float64 {
	out := ms
	for _, c := range choice {
		alone := wanted{columns: map[string]int{c.standIn: 1}}
		if len(s.missing(alone)) > 0 {
			return ms * ratio
		}
		out += float64(w.columns[c.missing]) * s.find(alone).sum.Value * (c.ratio - 1)
	}
	return out
}

// A standIn is a column that takes the place of a missing one.
type standIn struct {
	missing, standIn   string
	device, mode, from string
	signal             Signal
	ratio              float64 // frame of the mode asked for over frame of the one that stands in
}

// standIns returns the combinations of stand-ins for missing columns, in the
// order in which the devices list their modes. A column that stands in a
// measurement may also keep its place: with a stand-in for another one, the
// offset can be determined without knowing it alone.
func (s *Solution) standIns(missing []string) [][]standIn {
	all := [][]standIn{nil}
	for _, name := range missing {
		var next [][]standIn
		if s.network.of[name] != nil {
			next = slices.Clone(all)
		}
		for _, c := range s.standInsFor(name) {
			for _, before := range all {
				next = append(next, append(slices.Clone(before), c))
			}
		}
		if all = next; len(all) == 0 || len(all) > maxStandIns {
			return nil
		}
	}
	return slices.DeleteFunc(all, func(choice []standIn) bool { return len(choice) == 0 })
}

func (s *Solution) standInsFor(name string) []standIn {
	parts := strings.Split(name, "/")
	device, slug, signal := parts[0], strings.Join(parts[1:len(parts)-1], "/"), Signal(parts[len(parts)-1])
	asked := s.network.catalogue.modes[[2]string{device, slug}]
	var out []standIn
	for i := range s.network.catalogue.devices[device].Modes {
		m := &s.network.catalogue.devices[device].Modes[i]
		other := columnName(device, m.Slug, signal)
		if m.Slug == slug || slices.Contains(m.Direct, signal) || s.network.of[other] == nil {
			continue
		}
		c := standIn{missing: name, standIn: other, device: device, mode: slug, from: m.Slug, signal: signal, ratio: 1}
		if !asked.FrameRate.IsZero() && !m.FrameRate.IsZero() {
			c.ratio = asked.FrameRate.FrameMS() / m.FrameRate.FrameMS()
		}
		out = append(out, c)
	}
	return out
}

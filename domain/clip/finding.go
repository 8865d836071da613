package clip

import (
	"math"
	"slices"

	"delaybook/domain/recording"
)

// What is added to the uncertainty of the fit, standard, where no better is
// known. Each is explained in CLIP.md.
const (
	leastUMS      = 0.5  // with a camera: the model is never better than this
	shutterShare  = 0.02 // of the exposure: its shape
	sagShare      = 0.35 // of the exposure times the share by which the light sags
	readoutShare  = 0.15 // of what was corrected for a rolling shutter
	softShare     = 0.5  // of the rise of a soft onset
	fastestRiseMS = 3.5  // of a tone that is not soft: 1 ms through the filter takes 0.8
)

// finding turns an estimate into what is published.
func (a *analysis) finding(h *hearing, fit *fitter, e estimate, m match, beeps []beep) recording.Finding {
	out := recording.Finding{Sound: h.track, Flags: []recording.Flag{}}
	glows := make([]glow, len(m.pairs))
	for i, p := range m.pairs {
		glows[i] = a.glows[p.flash]
	}
	u := a.setCamera(&out, fit, e, glows, beeps)
	a.setDrift(&out, fit, e)
	a.complete(&out, h, e.offsetS, u, beeps)
	return out
}

// directFinding is the finding without a camera.
func (a *analysis) directFinding(h *hearing, fit *fitter, offsets []float64, beeps []beep) recording.Finding {
	out := recording.Finding{Sound: h.track, Flags: []recording.Flag{}, EventSDMS: 1e3 * sdOf(offsets)}
	for i, o := range offsets {
		out.Events = append(out.Events, recording.Event{
			AtS: fit.events[i].beepS, OffsetMS: 1e3 * o, UMS: 1e3 * max(fit.events[i].beepU, 0.02e-3), Confidence: 1, Used: true,
		})
	}
	if a.rows.scan != recording.Progressive {
		a.flagFields(&out)
	}
	a.complete(&out, h, mean(offsets), max(sdOf(offsets)/math.Sqrt(float64(len(offsets))), 0.02e-3), beeps)
	return out
}

// complete sets what findings with and without a camera have in common.
func (a *analysis) complete(out *recording.Finding, h *hearing, offset, u float64, beeps []beep) {
	hz := round(h.hz, 0.1)
	out.ToneHz = &hz
	if step := finiteOrZero(a.r.StampStepS); step > 1e-6 {
		u = math.Hypot(u, step/math.Sqrt(12))
	}
	u = math.Hypot(u, missing(beeps, h.hz)/math.Sqrt(3))
	out.OffsetMS, out.UMS = 1e3*offset, 1e3*u
	out.This95 = [2]float64{out.OffsetMS - 2*out.UMS, out.OffsetMS + 2*out.UMS}
	a.setCard(out, h)
	if soft(beeps, h.hz) {
		out.Flags = append(out.Flags, recording.FlagSoftOnset)
	}
	if h.snrDB < 28 || typicalU(beeps) > 0.7e-3 {
		out.Flags = append(out.Flags, recording.FlagLowSNR)
	}
	out.Said = say(out.OffsetMS, a.film.clock.periodS*1e3)
}

func round(x, step float64) float64 { return math.Round(x/step) * step }

func typicalU(beeps []beep) float64 {
	var us []float64
	for _, b := range beeps {
		us = append(us, b.uS)
	}
	return median(us)
}

// direct returns the offset of each event if no camera was there: every frame is
// dark or lit, black is black and white is white, silence is silent, and flashes
// begin with their frames. Then a flash is where its first frame begins.
func (a *analysis) direct(h *hearing, fit *fitter, m match) (offsets []float64, ok bool) {
	for i, p := range m.pairs {
		if g := &a.glows[p.flash]; !g.flat || g.noise > 0.02 {
			return nil, false
		}
		at, ok := fit.events[i].sharp(fit.stepS)
		if !ok {
			return nil, false
		}
		offsets = append(offsets, at-fit.events[i].beepS)
	}
	return offsets, h.snrDB > 45 && sdOf(offsets) < 0.5e-3
}

// sharp returns the beginning of the first lit sample, if none is partly lit.
func (e *event) sharp(stepS float64) (at float64, ok bool) {
	for _, s := range e.samples {
		share := s.share[plain]
		if share > 0.04 && share < 0.96 {
			return 0, false
		}
		if share > 0.5 && !ok {
			at, ok = s.atS-stepS/2, true
		}
	}
	return at, ok
}

// setCamera sets events, exposure and flags, and returns the uncertainty of the
// offset with everything that the fit does not know.
func (a *analysis) setCamera(out *recording.Finding, fit *fitter, e estimate, glows []glow, beeps []beep) (u float64) {
	off := a.film.clock.periodS * offCentre(glows, a.film.h)
	shift := a.rows.readout * off
	var weighed, weights float64
	for i, one := range e.each {
		ev := recording.Event{
			AtS: fit.events[i].beepS, OffsetMS: 1e3 * one.offsetS, UMS: 1e3 * one.uS,
			Confidence: one.weight, Used: one.weight >= 0.5,
		}
		out.Events = append(out.Events, ev)
		if ev.Used {
			d := one.offsetS - e.trend(fit, i) - e.offsetS
			w := 1 / (one.uS*one.uS + e.scatterS*e.scatterS)
			weighed += w * d * d
			weights += w
		}
	}
	// Events that no frame caught half lit say little and count little.
	out.EventSDMS = 1e3 * math.Sqrt(weighed/max(weights, 1e-12))
	exposure := round(e.exposureS*1e3, 0.1)
	out.ExposureMS = &exposure
	parts := []float64{e.uS, shutterShare * e.exposureS, readoutShare * shift, a.rows.readoutU * off}
	burnt, sag := a.lightFlags(out, glows)
	if burnt {
		// The light reaches the ceiling before the shutter shuts, so that the exposure seems short. It may be anything up
		// to the time between samples, and the onset late by half of the rest: a rectangle.
		parts = append(parts, max(fit.stepS-e.exposureS, 0)/2/math.Sqrt(3))
	}
	if sag > 0 {
		parts = append(parts, sagShare*sag*e.exposureS)
	}
	if soft(beeps, 0) {
		parts = append(parts, softShare*typicalRise(beeps))
	}
	sum := 0.0
	for _, p := range parts {
		sum += p * p
	}
	a.timingFlags(out, fit, e, shift)
	return max(math.Sqrt(sum), leastUMS/1e3)
}

// trend is what drift adds to an event.
func (e estimate) trend(fit *fitter, i int) float64 {
	if !e.drifts {
		return 0
	}
	return e.driftS * (fit.events[i].beepS - fit.middleS)
}

// lightFlags says whether flashes are overexposed without a halo to measure,
// and by how much the exposure sags.
func (a *analysis) lightFlags(out *recording.Finding, glows []glow) (burnt bool, sag float64) {
	over, spare := 0, 0
	var sags []float64
	for _, g := range glows {
		if g.burnt > burntShare {
			over++
			if g.spare {
				spare++
			}
		}
		sags = append(sags, g.sag)
	}
	if 2*over > len(glows) {
		out.Flags = append(out.Flags, recording.FlagClipped)
		burnt = 2*spare <= over
	}
	if sag = median(sags); sag > 0.04 {
		out.Flags = append(out.Flags, recording.FlagAutoExposure)
		return burnt, sag
	}
	return burnt, 0
}

func (a *analysis) timingFlags(out *recording.Finding, fit *fitter, e estimate, shift float64) {
	if a.rows.scan != recording.Progressive {
		a.flagFields(out)
	}
	if math.Abs(shift) > 0.7e-3 {
		out.Flags = append(out.Flags, recording.FlagRolling)
	}
	locked := len(e.each) >= 6 && phases(fit, e) < 5
	whole := wholeFrames(fit)
	cadence := e.scatterS > max(2.5e-3, 0.1*a.film.clock.periodS) && (whole || fit.uneven)
	if locked {
		out.Flags = append(out.Flags, recording.FlagFrameLocked)
	}
	if cadence {
		out.Flags = append(out.Flags, recording.FlagCadence)
	}
	if !cadence && !locked && (whole || e.exposureS < 0.12*fit.stepS) {
		out.Flags = append(out.Flags, recording.FlagShortExposure)
	}
}

func (a *analysis) flagFields(out *recording.Finding) {
	out.Flags = append(out.Flags, recording.FlagInterlaced)
	if a.rows.reversed {
		out.Flags = append(out.Flags, recording.FlagFieldOrder)
	}
}

// phases counts distinct phases of the frame at which flashes fall, by the
// beeps, which are exact: phases within 6 % of a frame are one.
func phases(fit *fitter, e estimate) int {
	var at []float64
	for i := range fit.events {
		ev := &fit.events[i]
		x := (ev.beepS + e.trend(fit, i) - ev.samples[0].atS) / fit.stepS
		at = append(at, x-math.Floor(x))
	}
	slices.Sort(at)
	n := 1
	first := at[0]
	for _, x := range at[1:] {
		if x-first > 0.06 {
			n++
			first = x
		}
	}
	if n > 1 && at[0]+1-first < 0.06 {
		n--
	}
	return n
}

// wholeFrames tells whether hardly any sample is partly lit, which no shutter
// does but a converter after it.
func wholeFrames(fit *fitter) bool {
	part := 0
	for _, e := range fit.events {
		if _, ok := e.sharp(fit.stepS); !ok {
			part++
		}
	}
	return 5*part <= len(fit.events)
}

// soft tells whether the tone fades in or its start is missing. hz 0: whatever
// the tone; else the length counts too, if the tone is the card's.
func soft(beeps []beep, hz float64) bool {
	slow, cut := 0, 0
	for _, b := range beeps {
		if b.riseS*1e3 > fastestRiseMS {
			slow++
		}
		if math.Abs(hz-cardHz) < 20 && b.lengthS < lengthS-10e-3 {
			cut++
		}
	}
	return 2*slow > len(beeps) || 2*cut > len(beeps)
}

// missing is how much of the card's tone is not there, seconds, 0 if that is
// little or the tone is another: all of it may be from the start.
func missing(beeps []beep, hz float64) float64 {
	var lengths []float64
	for _, b := range beeps {
		lengths = append(lengths, b.lengthS)
	}
	if lack := lengthS - median(lengths); math.Abs(hz-cardHz) < 20 && lack > 10e-3 {
		return lack
	}
	return 0
}

func typicalRise(beeps []beep) float64 {
	var rises []float64
	for _, b := range beeps {
		rises = append(rises, b.riseS)
	}
	return median(rises)
}

func (a *analysis) setDrift(out *recording.Finding, fit *fitter, e estimate) {
	if len(e.each) < 6 || fit.events[len(fit.events)-1].beepS-fit.events[0].beepS < 8 || e.driftUS > 1e-3 {
		return
	}
	ppm, u := e.driftS*1e6, e.driftUS*1e6
	out.DriftPPM, out.DriftUPPM = &ppm, &u
	if !e.drifts || math.Abs(ppm) < 3*u {
		return
	}
	out.Flags = append(out.Flags, recording.FlagDrift)
	if math.Abs(math.Abs(ppm)-1000) < max(30, 3*u) {
		out.Flags = append(out.Flags, recording.FlagRateError)
	}
}

func (a *analysis) setCard(out *recording.Finding, h *hearing) {
	cycle := a.o.CycleS
	if cycle == nil {
		cycle = cardCycle
	}
	ppm, u, ok := cardClock(h.beeps, cycle)
	if !ok {
		return
	}
	ppm = round(ppm, 0.1)
	out.CardPPM = &ppm
	if math.Abs(ppm) > 400 && math.Abs(ppm) > 5*u {
		out.Flags = append(out.Flags, recording.FlagCardRate)
	}
}

package tracks

import (
	"fmt"
	"math"

	"delaybook/domain/recording"
)

const (
	// floorS is what two microphones' own delays differ by and no recording shows: a pass band of 250 to
	// 3400 Hz delays by 0.06 ms.
	floorS      = 50e-6
	driftFloor  = 0.05e-6
	worthPPM    = 5.0  // a drift below costs less than 20 ms an hour
	ratePPM     = 1000 // 1000/1001
	rateNearPPM = 40
)

func report(p *pair, m *measured) recording.Result {
	f := p.finding(m)
	warnings := []recording.Warning{}
	for _, flag := range f.Flags {
		warnings = append(warnings, warn(flag, &f))
	}
	return recording.Result{
		Method: recording.ByTracks, Finding: &f, DurationS: p.durationS, Segments: []recording.Finding{f},
		Flags: f.Flags, Warnings: warnings, Evidence: p.evidence(),
	}
}

func (p *pair) finding(m *measured) recording.Finding {
	u := math.Sqrt(m.uS*m.uS + floorS*floorS + p.stampU()*p.stampU())
	offset, uMS := 1000*m.line.at, 1000*u
	drift, driftU := 1e6*m.line.slope, 1e6*math.Hypot(m.slopeU, driftFloor)
	first, second := p.tracks[0].Ref, p.tracks[1].Ref
	f := recording.Finding{
		FromS: p.fromS, ToS: p.fromS + p.durationS, OffsetMS: offset, UMS: uMS,
		This95: [2]float64{offset - 2*uMS, offset + 2*uMS}, EventSDMS: 1000 * m.spreadS,
		Sound: second, First: &first, Inverted: m.inverted, Said: said(offset),
		Events: []recording.Event{}, Flags: []recording.Flag{},
	}
	if !p.short() {
		f.DriftPPM, f.DriftUPPM = &drift, &driftU
	}
	for _, w := range m.windows {
		f.Events = append(f.Events, recording.Event{
			AtS: p.fromS + w.t, OffsetMS: 1000 * w.delayS, UMS: 1000 * math.Hypot(m.spreadS, floorS),
			Confidence: w.weight, Used: w.used,
		})
	}
	raise := func(flag recording.Flag, when bool) {
		if when {
			f.Flags = append(f.Flags, flag)
		}
	}
	drifts := f.DriftPPM != nil && math.Abs(drift) >= worthPPM && math.Abs(drift) > 3*driftU
	rate := drifts && math.Abs(math.Abs(drift)-ratePPM) <= rateNearPPM
	raise(recording.FlagRateError, rate)
	raise(recording.FlagDrift, drifts && !rate)
	raise(recording.FlagInverted, m.inverted)
	raise(recording.FlagWeakMatch, m.weak)
	raise(recording.FlagStampStep, p.stampU() > floorS)
	raise(recording.FlagCutShort, p.cutShort)
	return f
}

// stampU is the standard uncertainty in seconds that the containers' rounding
// of both starts leaves. Channels of one stream share their start.
func (p *pair) stampU() float64 {
	a, b := &p.tracks[0], &p.tracks[1]
	if a.Ref.File == b.Ref.File && a.Ref.Stream == b.Ref.Stream {
		return 0
	}
	return math.Hypot(a.StampStepS, b.StampStepS) / math.Sqrt(12)
}

// said puts an offset in ms in words, to 0.1 ms.
func said(offset float64) string {
	switch rounded := math.Round(offset*10) / 10; {
	case rounded > 0:
		return fmt.Sprintf("first track late %.1f ms", rounded)
	case rounded < 0:
		return fmt.Sprintf("second track late %.1f ms", -rounded)
	}
	return "the tracks are in step to 0.1 ms"
}

// warn puts a flag in words.
func warn(flag recording.Flag, f *recording.Finding) recording.Warning {
	w := recording.Warning{Code: flag}
	switch flag {
	case recording.FlagRateError:
		w.Text = fmt.Sprintf("The offset grows by %s: 1000/1001 was mixed up somewhere.", perHour(*f.DriftPPM))
		w.Try = "Set both recorders, or the file that was converted, to the same one of 48000 and 47952 samples or 30 and 29.97 frames."
	case recording.FlagDrift:
		w.Text = fmt.Sprintf("The two clocks differ: %s.", perHour(*f.DriftPPM))
		w.Try = "Lock both recorders to one clock; until then the offset holds for the middle of this recording."
	case recording.FlagInverted:
		w.Text = "The polarity of one track is turned over."
		w.Try = "Turn it over in the desk or check the cable; the delay is right all the same."
	case recording.FlagWeakMatch:
		w.Text = "The two tracks agree, though not by much."
		w.Try = "Record again for longer, louder or nearer to the source."
	case recording.FlagStampStep:
		w.Text = "The container rounds the start of the sound, which the uncertainty includes."
		w.Try = "Record both tracks as channels of one stream."
	case recording.FlagCutShort:
		w.Text = fmt.Sprintf("Only the first %g s were compared.", longestS)
		w.Try = "Send the stretch that matters."
	}
	return w
}

// perHour says a drift in words: 1 ppm is 3.6 ms an hour.
func perHour(ppm float64) string {
	late := "first"
	if ppm < 0 {
		late = "second"
	}
	return fmt.Sprintf("the %s track falls behind by %.3g ms an hour (%.3g ppm)", late, math.Abs(ppm)*3.6, math.Abs(ppm))
}

// evidence returns the envelopes of both tracks, loudest 1.
func (p *pair) evidence() *recording.Evidence {
	if p.first == nil || p.second == nil {
		return nil
	}
	return &recording.Evidence{FromS: p.fromS, Sound: envelope(p.second), Second: envelope(p.first)}
}

func envelope(x []float64) *recording.Series {
	step := max(120, len(x)/2000) // 5 ms, or 2000 values
	levels := make([]float64, 0, len(x)/step)
	most := 0.0
	for from := 0; from+step <= len(x); from += step {
		level := rms(x[from : from+step])
		levels, most = append(levels, level), max(most, level)
	}
	s := &recording.Series{StepS: float64(step) / workRate, Values: make([]byte, len(levels))}
	for i, level := range levels {
		if most > 0 {
			s.Values[i] = byte(math.Round(255 * level / most))
		}
	}
	return s
}

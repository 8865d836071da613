package analyst

import (
	"slices"

	"delaybook/domain/recording"
	"delaybook/domain/service"
	"delaybook/domain/tracks"
)

// byTracks compares the two tracks that are named or picked, whole or stretch by
// stretch. Stretches that give no number are left out as long as one does.
func byTracks(recordings []*recording.Recording, o service.AnalysisOptions) recording.Result {
	first, second, refusal := tracks.Pick(recordings, tracks.Options{First: o.First, Second: o.Sound})
	if refusal != nil {
		return refuse(recording.ByTracks, *refusal)
	}
	whole := tracks.Compare(first, second)
	if len(o.Segments) == 0 {
		return whole
	}
	out := whole
	out.Finding, out.Segments, out.Refused = nil, []recording.Finding{}, nil
	for _, span := range o.Segments {
		part := tracks.Compare(cut(first, span), cut(second, span))
		if part.Refused != nil {
			refusal = part.Refused
			continue
		}
		out.Segments = append(out.Segments, part.Segments...)
		out.Flags, out.Warnings = joined(out.Flags, part.Flags), joinedWarnings(out.Warnings, part.Warnings)
	}
	if len(out.Segments) == 0 {
		out.Refused = refusal
		return out
	}
	out.Finding = &out.Segments[0]
	return out
}

// cut returns a stretch of a track, on the same axis of time.
func cut(t tracks.Track, span service.Span) tracks.Track {
	rate := float64(t.Sound.Rate)
	channels := make([][]float32, len(t.Sound.Channels))
	start := 0
	for i, samples := range t.Sound.Channels {
		from := min(max(int((span.FromS-t.Sound.StartS)*rate), 0), len(samples))
		to := min(max(int((span.ToS-t.Sound.StartS)*rate), from), len(samples))
		channels[i], start = samples[from:to], from
	}
	t.Sound.Channels = channels
	if rate > 0 {
		t.Sound.StartS += float64(start) / rate
	}
	return t
}

func joined(list, more []recording.Flag) []recording.Flag {
	for _, flag := range more {
		if !slices.Contains(list, flag) {
			list = append(list, flag)
		}
	}
	return list
}

func joinedWarnings(list, more []recording.Warning) []recording.Warning {
	for _, warning := range more {
		if !slices.ContainsFunc(list, func(have recording.Warning) bool { return have.Code == warning.Code }) {
			list = append(list, warning)
		}
	}
	return list
}

package tracks

import (
	"math"

	"delaybook/domain/recording"
)

// Pick chooses the two tracks to compare, and the first of them: of one file two
// channels or two streams, of two files that start together one channel each.
// Silent channels and copies of a channel already taken are passed over; of one
// file the first and the second stream come before two channels of one stream.
// What the person names is taken as it is.
func Pick(recs []*recording.Recording, o Options) (first, second Track, refusal *recording.Refusal) {
	if len(recs) == 0 || len(recs) > 2 {
		return first, second, filesWanted(len(recs))
	}
	candidates := [2][]Track{}
	for i, rec := range recs {
		candidates[i] = all(rec, i)
		if len(candidates[i]) == 0 {
			return first, second, noAudio(i, len(recs))
		}
	}
	if first, refusal = pickFirst(candidates[0], recs, o.First); refusal != nil {
		return first, second, refusal
	}
	second, refusal = pickSecond(&first, candidates, recs, o.Second)
	return first, second, refusal
}

// all lists the channels of a recording.
func all(rec *recording.Recording, file int) []Track {
	var tracks []Track
	if rec == nil {
		return nil
	}
	for _, sound := range rec.Sounds {
		for channel := range sound.Channels {
			tracks = append(tracks, Track{
				Sound: sound, Channel: channel, StampStepS: rec.StampStepS,
				Ref: recording.Track{File: file, Stream: sound.Stream, Channel: channel},
			})
		}
	}
	return tracks
}

func pickFirst(from []Track, recs []*recording.Recording, named *recording.Track) (Track, *recording.Refusal) {
	if named != nil {
		return byName(recs, *named)
	}
	for _, t := range from {
		if !t.isSilent() {
			return t, nil
		}
	}
	return Track{}, allSilent(0, len(recs))
}

func pickSecond(first *Track, candidates [2][]Track, recs []*recording.Recording, named *recording.Track) (Track, *recording.Refusal) {
	if named != nil {
		t, refusal := byName(recs, *named)
		if refusal == nil && (t.Ref == first.Ref || t.copies(first)) {
			return t, onlyCopies(first, &t)
		}
		return t, refusal
	}
	from := candidates[0]
	if len(recs) == 2 {
		from = candidates[1-min(1, first.Ref.File)]
	}
	copy, best := -1, -1
	for i := range from {
		t := &from[i]
		switch {
		case t.Ref == first.Ref || t.isSilent():
		case t.copies(first):
			copy = i
		case best < 0, t.Ref.Stream != first.Ref.Stream && from[best].Ref.Stream == first.Ref.Stream:
			best = i
		}
	}
	switch {
	case best >= 0:
		return from[best], nil
	case copy >= 0:
		return Track{}, onlyCopies(first, &from[copy])
	case len(recs) == 2:
		return Track{}, allSilent(1, 2)
	}
	return Track{}, single(len(from))
}

func byName(recs []*recording.Recording, ref recording.Track) (Track, *recording.Refusal) {
	if ref.File < 0 || ref.File >= len(recs) {
		return Track{}, noSuch(ref)
	}
	for _, t := range all(recs[ref.File], ref.File) {
		if t.Ref == ref {
			return t, nil
		}
	}
	return Track{}, noSuch(ref)
}

func (t *Track) isSilent() bool {
	sum := 0.0
	for _, v := range t.samples() {
		sum += float64(v) * float64(v)
	}
	// Not a number is not silent: Compare refuses it with the reason.
	return sum <= silence*silence*float64(len(t.samples()))
}

// copies tells whether two tracks of one file hold the same samples at the same
// instants, up to a gain of either sign: what that leaves is 60 dB down. Two
// files may well be equal; then their delay is a fair question.
func (t *Track) copies(other *Track) bool {
	a, b := t.samples(), other.samples()
	sameGrid := t.Ref.File == other.Ref.File && t.Sound.Rate == other.Sound.Rate && t.Sound.StartS == other.Sound.StartS
	if !sameGrid {
		return false
	}
	aa, ab, bb := 0.0, 0.0, 0.0
	for i := range min(len(a), len(b)) {
		x, y := float64(a[i]), float64(b[i])
		aa, ab, bb = aa+x*x, ab+x*y, bb+y*y
	}
	return bb > 0 && aa > 0 && aa-ab*ab/bb < 1e-6*aa && !math.IsNaN(aa+bb)
}

func filesWanted(n int) *recording.Refusal {
	return refusal(recording.OneTrack, "Send one file with two tracks, or two files that start together.",
		"Two tracks can be compared of one file or of two, and there are %d.", n)
}

func noAudio(file, files int) *recording.Refusal {
	return refusal(recording.NoAudio, "Send a recording with sound.", "%s has no sound.", fileName(file, files))
}

func allSilent(file, files int) *recording.Refusal {
	return refusal(recording.Silent, "Bring up the gain, look whether it is the right input, and record again.",
		"%s has sound, and all of it is silent.", fileName(file, files))
}

// onlyCopies refuses two equal channels. A steady tone that is late by whole
// periods looks the same: then it is the tone that is wrong.
func onlyCopies(first, second *Track) *recording.Refusal {
	if _, refusal := prepare(*first, *second); refusal != nil && refusal.Code == recording.Tonal {
		return refusal
	}
	return refusal(recording.OneTrack, "Record the two sources on channels of their own: the recorder may be set to mono.",
		"The channels are copies of one another: the file holds one track, and its delay to itself says nothing.")
}

func single(channels int) *recording.Refusal {
	if channels > 1 {
		return refusal(recording.Silent, "Bring up the gain, look whether it is the right input, and record again.",
			"The file has %d channels, and all but one are silent.", channels)
	}
	return refusal(recording.OneTrack, "Record the second source on a channel of its own, or send it as a second file that starts together.",
		"The file has one channel, and a comparison takes two.")
}

func noSuch(ref recording.Track) *recording.Refusal {
	return refusal(recording.OneTrack, "Name tracks that the files have, or none: then they are chosen.",
		"There is no channel %d of stream %d in file %d, counted from 1.", ref.Channel+1, ref.Stream+1, ref.File+1)
}

func fileName(file, files int) string {
	if files == 1 {
		return "The file"
	}
	return "The " + names[min(file, 1)] + " file"
}

package clip

import (
	"math"
	"slices"

	"delaybook/domain/recording"
)

// Options say what is known beforehand. The zero Options are right for a
// recording of the card.
type Options struct {
	Segments []Span    // stretches to measure apart; none: they are found
	MaxS     float64   // look at no more than this from the first frame on, seconds; 0: at all
	ToneHz   float64   // of the beeps; 0: it is found
	CycleS   []float64 // intervals between events of the card, seconds; nil: the card's own 12
}

// A Span is a stretch of a recording, in seconds on its axis.
type Span struct{ FromS, ToS float64 }

func (s Span) holds(t float64) bool { return s.FromS <= t && t <= s.ToS }

// Analyse measures the offset of picture against sound in a recording of the
// flash-and-beep card. It always answers: with findings, one for each stretch
// of constant offset and each track that differs, or with the reason why there
// are none. It does not modify r, and it holds on to nothing of it.
func Analyse(r *recording.Recording, o Options) recording.Result {
	a := analysis{o: o, result: recording.Result{
		Method: recording.ByClip, Segments: []recording.Finding{}, Flags: []recording.Flag{}, Warnings: []recording.Warning{},
	}}
	if r == nil {
		return a.refuse(recording.Unreadable)
	}
	a.r = r
	a.result.DurationS = finiteOrZero(r.DecodedS)
	return a.run()
}

func finiteOrZero(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
		return 0
	}
	return x
}

// An analysis is one recording on its way.
type analysis struct {
	o        Options
	r        *recording.Recording
	result   recording.Result
	flags    []recording.Flag
	film     *film
	glows    []glow
	rows     rowClock
	repeats  bool      // frames are
	hearings []hearing // best first
}

func (a *analysis) run() recording.Result {
	if a.r.Video == nil || len(a.r.Video.PTS) == 0 {
		return a.refuse(recording.NoVideo)
	}
	heard := channels(a.r.Sounds)
	if len(heard) == 0 {
		return a.refuse(recording.NoAudio)
	}
	if a.film = newFilm(a.limited(a.r.Video)); a.film == nil {
		return a.refuse(recording.NoFlashes)
	}
	a.result.FrameRate = a.film.clock.rate()
	if a.result.DurationS == 0 {
		a.result.DurationS = a.film.pts[len(a.film.pts)-1] - a.film.pts[0] + a.film.clock.periodS
	}
	found := a.film.flashes()
	if len(found) == 0 {
		return a.refuse(recording.NoFlashes)
	}
	a.hear(heard)
	if len(a.hearings) == 0 {
		return a.refuse(recording.NoBeeps)
	}
	a.light(found)
	return a.findings()
}

// limited is the picture up to MaxS.
func (a *analysis) limited(v *recording.Video) *recording.Video {
	if a.o.MaxS <= 0 || len(v.PTS) == 0 {
		return v
	}
	end := slices.Min(v.PTS) + a.o.MaxS
	if slices.Max(v.PTS) <= end {
		return v
	}
	cut := *v
	cut.PTS = nil
	cut.Luma = nil
	size := v.Width * v.Height
	for i, t := range v.PTS {
		if t <= end && (i+1)*size <= len(v.Luma) {
			cut.PTS = append(cut.PTS, t)
			cut.Luma = append(cut.Luma, v.Picture(i)...)
		}
	}
	a.flags = append(a.flags, recording.FlagCutShort)
	return &cut
}

// hear listens to every channel and keeps those with two beeps or more, the
// clearest first.
func (a *analysis) hear(heard []channel) {
	hz := a.o.ToneHz
	for i := range heard {
		h := heard[i].listen(hz)
		if a.o.MaxS > 0 {
			end := a.film.pts[0] + a.o.MaxS + reachS
			h.beeps = slices.DeleteFunc(h.beeps, func(b beep) bool { return b.atS > end })
		}
		if len(h.beeps) >= 2 {
			a.hearings = append(a.hearings, h)
		}
	}
	slices.SortStableFunc(a.hearings, func(x, y hearing) int {
		switch {
		case x.score() > y.score():
			return -1
		case x.score() < y.score():
			return 1
		}
		return 0
	})
}

// light measures the onsets of all flashes. Flashes that cannot be measured
// closely stay in the list for pairing.
func (a *analysis) light(found []flash) {
	l := newLook(a.film)
	for _, fl := range found {
		if g, ok := l.glow(fl); ok {
			a.glows = append(a.glows, g)
		} else {
			a.glows = append(a.glows, glow{flash: fl})
		}
	}
	a.repeats = a.film.repeats()
	a.rows = findRows(a.measured(), a.film.scan)
}

func (a *analysis) measured() []glow {
	return slices.DeleteFunc(slices.Clone(a.glows), func(g glow) bool { return g.mask == nil })
}

// findings measures each stretch of each track.
func (a *analysis) findings() recording.Result {
	var refused recording.RefusalCode
	var found []recording.Finding
	for i := range a.hearings {
		h := &a.hearings[i]
		if i > 0 && (h.snrDB < 12 || h.copies(a.hearings[:i])) { // another track counts if it is clear and says something else
			continue
		}
		fs, why := a.track(h)
		if i == 0 {
			refused = why
		}
		for _, f := range fs {
			if !slices.ContainsFunc(found, func(o recording.Finding) bool { return sameSound(o, f) }) {
				found = append(found, f)
			}
		}
	}
	if len(found) == 0 {
		return a.refuse(refused)
	}
	slices.SortStableFunc(found, func(x, y recording.Finding) int {
		if x.ToS <= y.FromS+0.5 {
			return -1
		}
		if y.ToS <= x.FromS+0.5 {
			return 1
		}
		if x.Sound.Stream != y.Sound.Stream {
			return x.Sound.Stream - y.Sound.Stream
		}
		return x.Sound.Channel - y.Sound.Channel
	})
	a.result.Segments = found
	a.result.Finding = &a.result.Segments[0]
	a.finish()
	a.result.Evidence = a.evidence()
	return a.result
}

// copies tells whether a track hears the beeps within 0.2 ms of when another one
// does, so that measuring it would repeat that.
func (h *hearing) copies(others []hearing) bool {
	for _, o := range others {
		same := 0
		for _, b := range h.beeps {
			if slices.ContainsFunc(o.beeps, func(c beep) bool { return math.Abs(b.atS-c.atS) < 0.2e-3 }) {
				same++
			}
		}
		if 10*same >= 8*max(len(h.beeps), len(o.beeps)) {
			return true
		}
	}
	return false
}

// sameSound tells whether another channel says nothing new: the same stretch and
// the same offset within 0.3 ms, the width of a camera's two microphones, or what
// both cannot tell apart.
func sameSound(a, b recording.Finding) bool {
	together := a.FromS < b.ToS-1 && b.FromS < a.ToS-1
	apart := math.Abs(a.OffsetMS - b.OffsetMS)
	own := math.Hypot(a.EventSDMS, b.EventSDMS) / math.Sqrt(float64(max(len(a.Events), 1)))
	return together && apart < max(0.3, min(2*own, 2))
}

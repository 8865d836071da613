package pages

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"delaybook/api/wording"
	"delaybook/domain/clip"
	"delaybook/domain/onset"
	"delaybook/domain/service"
	"delaybook/domain/timebase"
)

// A stepPlace is where a person is in a recording and what was read so far: all
// that the address of the page holds.
type stepPlace struct {
	Sound int   // which of the sudden sounds, from 0
	Ticks int64 // of the frame, 1/90000 s
	Reads []stepRead
	Hands bool // watched for hands or a slate; else for the flash
}

const (
	watchHands = "hands"
	watchFlash = "flash"

	seenOn    = "on"
	seenAfter = "after"
)

// A stepRead says on which frame the picture of a sound was seen.
type stepRead struct {
	Sound int
	Ticks int64
	Seen  string // on the frame, or after it: between it and the next
}

func (r stepRead) token() string {
	return strconv.Itoa(r.Sound) + "." + strconv.FormatInt(r.Ticks, 10) + "." + r.Seen
}

// parseRead reads a token; ok is false for what is none.
func parseRead(token string, sounds int) (read stepRead, ok bool) {
	parts := strings.Split(token, ".")
	if len(parts) != 3 || parts[2] != seenOn && parts[2] != seenAfter {
		return read, false
	}
	sound, err := strconv.Atoi(parts[0])
	ticks, wrong := strconv.ParseInt(parts[1], 10, 64)
	return stepRead{sound, ticks, parts[2]}, err == nil && wrong == nil && sound >= 0 && sound < sounds
}

// stepPlace reads the address, or the form that was made of it. What it lacks
// begins at the first sound.
func (v *visit) stepPlace(c service.ClipView, heard service.Hearing) stepPlace {
	_ = v.Request().ParseForm() // FormValue does so too, and takes what can be read
	s := stepPlace{}
	watch := v.form("watch")
	if watch == "" {
		watch = watched(c.Clip)
	}
	s.Hands = watch != watchFlash
	for _, token := range v.Request().Form["read"] {
		if read, ok := parseRead(token, len(heard.Onsets)); ok {
			s.Reads = append(s.without(read.Sound), read)
		}
	}
	if n, err := strconv.Atoi(v.form("sound")); err == nil && n >= 0 && n < len(heard.Onsets) {
		s.Sound = n
	}
	if len(heard.Onsets) > 0 {
		s.Ticks = ticksOf(heard.Onsets[s.Sound].AtS)
	}
	if at, err := strconv.ParseInt(v.form("at"), 10, 64); err == nil {
		s.Ticks = at
	}
	return s
}

// without returns what was read of other sounds.
func (s stepPlace) without(sound int) []stepRead {
	return slices.DeleteFunc(slices.Clone(s.Reads), func(r stepRead) bool { return r.Sound == sound })
}

func ticksOf(s float64) int64 { return int64(math.Floor(s * service.TicksPerS)) }

// A stepFrame is a frame with how long frames last there.
type stepFrame struct {
	atS, periodS float64
	rate         timebase.Rate
	even         bool // they last equally long, by a customary rate
}

func stepFrameOf(times []int64, shown int) stepFrame {
	pts := make([]float64, len(times))
	for i, t := range times {
		pts[i] = float64(t) / service.TicksPerS
	}
	f := stepFrame{atS: pts[shown]}
	f.periodS, f.rate, f.even = clip.FramePeriod(pts)
	if f.periodS <= 0 {
		const usual = 1.0 / 30 // the recording has one frame
		f.periodS = usual
	}
	return f
}

func (f stepFrame) halves(soundS float64) int { return onset.Halves(soundS, f.atS, f.periodS) }

// A countedRead is a reading with its words.
type countedRead struct {
	reading service.NewReading
	words   string
	rate    string // of the recording; empty: its frames last unequally, and the reading is in ms
}

// counted makes a reading of what a person saw. Frames are counted in halves where
// they all last equally long; else the time between picture and sound is taken.
func (v *visit) counted(id string, read stepRead, heard service.Hearing) (countedRead, error) {
	const beside = 12 // frames on each side, to tell how long one lasts
	times, shown, err := v.pages.clips.StillsAround(v.Request().Context(), v.request(), id, read.Ticks, beside, service.StillWidth)
	if err != nil {
		return countedRead{}, err
	}
	f, soundS := stepFrameOf(times, shown), heard.Onsets[read.Sound].AtS
	seen := onset.OnFrame
	if read.Seen == seenAfter {
		seen = onset.AfterIt
	}
	if !f.even {
		ms := 1000 * (f.atS + float64(seen)/2*f.periodS - soundS)
		out := countedRead{reading: service.NewReading{OffsetMS: &ms, AtS: &soundS}}
		out.words = "sound " + wording.Heard(ms) + " " + strconv.FormatFloat(math.Abs(ms), 'f', 1, 64) + " ms"
		if wording.Heard(ms) == "in-sync" {
			out.words = "in sync"
		}
		return out, nil
	}
	frames := onset.Count(seen, soundS, f.atS, f.periodS)
	ms := frames * f.rate.FrameMS()
	return countedRead{
		reading: service.NewReading{Frames: strconv.FormatFloat(math.Abs(frames), 'f', -1, 64), Heard: wording.Heard(ms), AtS: &soundS},
		words:   wording.Offset(ms, f.rate), rate: f.rate.String(),
	}, nil
}

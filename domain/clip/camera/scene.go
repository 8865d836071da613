package camera

import (
	"math"
	"math/rand/v2"

	"delaybook/domain/recording"
)

// Width and Height are those of the small grey pictures that a decoder hands on.
const (
	Width  = 96
	Height = 108
)

// Cycle are the intervals of the card, seconds, written out apart from package card: a
// card that changed would no longer be that of the recordings here.
var Cycle = []float64{0.816, 1.188, 0.923, 0.994, 1.309, 1.239, 1.143, 1.372, 1.061, 0.761, 0.864, 0.701}

// A Scene is one recording to be made. New gives one that is easy.
type Scene struct {
	Seed     uint64
	FPS      float64 // frames a second
	LengthS  float64
	OffsetMS float64   // picture minus sound at mid recording: positive, the sound is early
	DriftPPM float64   // growth of the offset
	CardPPM  float64   // how fast the card runs
	Events   []float64 // beeps, seconds from the start; nil: the card from a chance place of its cycle
	FlashS   float64   // length of a flash
	Steps    []Step    // of the offset

	Scan       recording.Scan // how the picture is exposed
	SaidScan   recording.Scan // what the file says; empty: the truth
	Exposure   float64        // of a frame (of a field if interlaced)
	Rolling    float64        // readout of all rows, frames
	Area       float64        // of the picture that the flash fills
	OffCentre  float64        // of the flash, heights downwards
	Gamma      float64
	SCurve     float64 // how much of an S is mixed into the curve
	Noise      float64 // standard deviation of a full-size pixel's share of white; pictures are means of 100
	Gain       float64 // white level of the flash: above 1 is overexposed
	Dark       float64 // level of the dark flash area, share of white
	Pumping    float64 // share by which the gain falls within 100 ms of flash
	FlickerHz  float64 // of the surroundings
	Flicker    float64
	Shake      float64 // share of the width
	Blur       float64 // deviation in pixels
	Bare       bool    // the light of the flash falls on nothing else, and no lens spreads it
	DisplayMS  float64 // jitter of the display, standard deviation
	Digital    bool    // no camera: a file or feed, flash on its frame
	Locked     bool    // events on frame starts of the camera's clock
	DropShare  float64 // frames that are missing
	JitterMS   float64 // of time stamps
	CadenceFPS float64 // the picture went through this rate before: frames are repeated
	MissFlash  []int   // events without flash
	MissBeep   []int
	ExtraFlash []float64
	ExtraBeep  []float64

	SampleRate int
	SNR        float64 // of the tone over noise in all of the band, dB
	RT60       float64 // 0: dry
	DRR        float64 // direct over reverberant, dB
	PreEcho    float64 // level of a coder's echo before the attack, share of the tone; it lasts 20 ms
	EatenMS    float64 // how long a gate takes to open
	ToneHz     float64
	ToneS      float64
	Channels   []Ear // nil: one
}

// A Step says that the offset is different from an instant on.
type Step struct{ FromS, ByMS float64 }

// An Ear is one channel of the sound.
type Ear struct {
	LateMS float64
	Gain   float64 // negative: inverted; 0: only noise
	Stream int
}

// New is a scene with a normal shutter in a normal room.
func New(seed uint64, fps, offsetMS float64) Scene {
	return Scene{
		Seed: seed, FPS: fps, LengthS: 16, OffsetMS: offsetMS, FlashS: 0.16,
		Scan: recording.Progressive, Exposure: 0.5, Area: 0.2, Gamma: 2.2, Noise: 0.02, Gain: 0.8, Dark: 0.02,
		SampleRate: 48000, SNR: 20, RT60: 0.4, DRR: 3, ToneHz: 2000, ToneS: 0.06,
	}
}

// A take is what really happens.
type take struct {
	Scene
	rng                    *rand.Rand
	beeps                  []float64
	flashes                []float64
	noise                  []float32
	table                  [2][steps + 1]float64 // of the curve, as last needed
	tableAround, tableGain float64
	nominal                float64 // frame period
}

func (s Scene) begin() *take {
	t := &take{Scene: s, rng: rand.New(rand.NewPCG(s.Seed, 0x5ce4e)), nominal: 1 / s.FPS}
	t.noise = make([]float32, 1<<17)
	for i := range t.noise {
		t.noise[i] = float32(t.rng.NormFloat64())
	}
	events := s.Events
	if events == nil {
		events = t.card()
	}
	for i, at := range events {
		flash := t.flashAt(at)
		if !has(s.MissBeep, i) {
			t.beeps = append(t.beeps, at)
		}
		if !has(s.MissFlash, i) && flash > 0.1 && flash+s.FlashS < s.LengthS-0.1 {
			t.flashes = append(t.flashes, flash)
		}
	}
	t.beeps = append(t.beeps, s.ExtraBeep...)
	t.flashes = append(t.flashes, s.ExtraFlash...)
	return t
}

func has(xs []int, i int) bool {
	for _, x := range xs {
		if x == i {
			return true
		}
	}
	return false
}

// card lists events from a chance place in the cycle.
func (t *take) card() []float64 {
	at := t.rng.IntN(len(Cycle))
	now := 0.15 + 0.8*t.rng.Float64()
	var out []float64
	for now < t.LengthS-0.2 {
		event := now
		if t.Locked || t.Digital {
			event = math.Round(now*t.FPS) / t.FPS
		}
		out = append(out, event)
		now += Cycle[at%len(Cycle)] / (1 + t.CardPPM*1e-6)
		at++
	}
	return out
}

// flashAt is when the picture of a beep comes.
func (t *take) flashAt(beep float64) float64 {
	offset := t.OffsetMS + t.DriftPPM*1e-3*(beep-t.LengthS/2)
	for _, s := range t.Steps {
		if beep >= s.FromS {
			offset += s.ByMS
		}
	}
	if t.DisplayMS > 0 {
		offset += t.DisplayMS * t.rng.NormFloat64()
	}
	at := beep + offset/1e3
	if t.Digital {
		at = math.Round(at*t.FPS*2) / (t.FPS * 2)
	}
	return at
}

// Film makes the recording.
func (s Scene) Film() *recording.Recording {
	t := s.begin()
	said := s.SaidScan
	if said == "" {
		said = s.Scan
	}
	v := t.film()
	v.Scan = said
	return &recording.Recording{
		Container: "mov", DurationS: s.LengthS, DecodedS: s.LengthS, Video: v, Sounds: t.sounds(),
	}
}

// Truth lists when the beeps and flashes of the scene begin.
func (s Scene) Truth() (beeps, flashes []float64) {
	t := s.begin()
	return t.beeps, t.flashes
}

package clip_test

import (
	"math"
	"slices"
	"testing"

	"delaybook/domain/clip"
	"delaybook/domain/clip/camera"
	"delaybook/domain/recording"
)

// even lists events of one interval.
func even(interval, length float64) []float64 {
	var out []float64
	for t := 0.5; t < length-0.3; t += interval {
		out = append(out, t)
	}
	return out
}

// card12 is 12 s of the card.
func card12() camera.Scene {
	s := camera.New(5, 25, 80)
	s.LengthS = 12
	return s
}

var refused = []struct {
	name string
	make func() *recording.Recording
	want recording.RefusalCode
}{
	{"no picture", func() *recording.Recording {
		r := card12().Film()
		r.Video = nil
		return r
	}, recording.NoVideo},
	{"no sound", func() *recording.Recording {
		r := card12().Film()
		r.Sounds = nil
		return r
	}, recording.NoAudio},
	{"no flash", func() *recording.Recording {
		s := card12()
		s.MissFlash = []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14}
		return s.Film()
	}, recording.NoFlashes},
	{"no beep, noise", func() *recording.Recording {
		s := card12()
		s.Channels = []camera.Ear{{Gain: 0}}
		return s.Film()
	}, recording.NoBeeps},
	{"silence", func() *recording.Recording {
		r := card12().Film()
		r.Sounds[0].Channels[0] = make([]float32, len(r.Sounds[0].Channels[0]))
		return r
	}, recording.NoBeeps},
	{"one beep", func() *recording.Recording {
		s := card12()
		s.MissBeep = []int{0, 1, 2, 3, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14}
		return s.Film()
	}, recording.NoBeeps},
	{"three events", func() *recording.Recording {
		s := card12()
		s.LengthS = 4
		s.Events = []float64{0.6, 1.4, 2.6}
		return s.Film()
	}, recording.TooFew},
	{"even events", func() *recording.Recording {
		s := card12()
		s.Events = even(1, s.LengthS)
		return s.Film()
	}, recording.Ambiguous},
	{"even events 2 s apart", func() *recording.Recording {
		s := card12()
		s.LengthS = 20
		s.Events = even(2, s.LengthS)
		return s.Film()
	}, recording.Ambiguous},
	{"unrelated sound", func() *recording.Recording {
		s, other := card12(), camera.New(99, 25, 80)
		s.LengthS, other.LengthS = 20, 20
		other.Events = []float64{0.7, 1.9, 2.8, 3.55, 4.9, 6.4, 7.3, 8.02, 9.7, 10.6, 11.9, 13.1, 13.95, 15.6, 16.4, 17.9, 18.8}
		r := s.Film()
		r.Sounds = other.Film().Sounds
		return r
	}, ""}, // either of two, checked below
	{"offset beyond reach", func() *recording.Recording {
		s := card12()
		s.LengthS, s.OffsetMS = 20, 3300
		return s.Film()
	}, ""},
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	for _, c := range refused {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := clip.Analyse(c.make(), clip.Options{})
			if got.Refused == nil {
				t.Fatalf("not refused: %s", got.Said)
			}
			if c.want != "" && got.Refused.Code != c.want {
				t.Errorf("refused as %s, want %s", got.Refused.Code, c.want)
			}
			if c.want == "" && !slices.Contains([]recording.RefusalCode{recording.TooFew, recording.Unpaired}, got.Refused.Code) {
				t.Errorf("refused as %s, want too-few or unpaired", got.Refused.Code)
			}
			if got.Refused.Text == "" || got.Refused.Try == "" || got.Finding != nil || len(got.Segments) != 0 {
				t.Errorf("refusal %+v with %d segments, want words and no numbers", *got.Refused, len(got.Segments))
			}
		})
	}
}

func TestDegenerateInput(t *testing.T) {
	t.Parallel()
	flat := func(frames int, level byte) *recording.Video {
		v := &recording.Video{Width: camera.Width, Height: camera.Height, Scan: recording.Progressive}
		for i := range frames {
			v.PTS = append(v.PTS, float64(i)/25)
			v.Luma = append(v.Luma, slices.Repeat([]byte{level}, camera.Width*camera.Height)...)
		}
		return v
	}
	sound := func(n int, value float32) []recording.Sound {
		return []recording.Sound{{Rate: 48000, Channels: [][]float32{slices.Repeat([]float32{value}, n)}}}
	}
	broken := camera.New(3, 25, 40)
	broken.LengthS = 6
	wrong := broken.Film()
	wrong.Video.PTS[7] = math.NaN()
	wrong.Sounds[0].Channels[0][1000] = float32(math.NaN())
	wrong.Sounds[0].Channels[0][2000] = float32(math.Inf(1))
	short := broken.Film()
	short.Video.Luma = short.Video.Luma[:1000]
	for _, c := range []struct {
		name string
		r    *recording.Recording
	}{
		{"nothing", nil},
		{"empty", &recording.Recording{}},
		{"no frames", &recording.Recording{Video: &recording.Video{Width: 96, Height: 108}, Sounds: sound(48000, 0)}},
		{"one frame", &recording.Recording{Video: flat(1, 99), Sounds: sound(48000, 0)}},
		{"equal stamps", &recording.Recording{
			Video:  &recording.Video{Width: 96, Height: 108, PTS: make([]float64, 90), Luma: make([]byte, 90*96*108)},
			Sounds: sound(48000, 0),
		}},
		{"grey and silent", &recording.Recording{Video: flat(100, 128), Sounds: sound(192000, 0)}},
		{"white and constant", &recording.Recording{Video: flat(100, 255), Sounds: sound(192000, 1)}},
		{"no samples", &recording.Recording{Video: flat(100, 16), Sounds: sound(0, 0)}},
		{"no rate", &recording.Recording{Video: flat(100, 16), Sounds: []recording.Sound{{Channels: [][]float32{make([]float32, 99)}}}}},
		{"a tiny picture", &recording.Recording{Video: &recording.Video{Width: 2, Height: 2, PTS: make([]float64, 40), Luma: make([]byte, 160)}, Sounds: sound(48000, 0)}},
		{"less luma than frames", short},
		{"not numbers", wrong},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := clip.Analyse(c.r, clip.Options{})
			if got.Refused == nil && c.name != "not numbers" {
				t.Errorf("not refused: %s", got.Said)
			}
			for _, f := range got.Segments {
				for _, x := range []float64{f.OffsetMS, f.UMS, f.EventSDMS, f.This95[0], f.This95[1], f.FromS, f.ToS} {
					if math.IsNaN(x) || math.IsInf(x, 0) {
						t.Errorf("%+v has what is not a number", f)
					}
				}
			}
		})
	}
}

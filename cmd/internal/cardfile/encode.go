package cardfile

import (
	"context"

	"delaybook/cmd/internal/decoder"
	"delaybook/domain/card"
)

// An Encoder makes media files.
type Encoder interface {
	Encode(ctx context.Context, o decoder.EncodeOptions) error
}

var _ Encoder = (*decoder.Decoder)(nil)

// Pictures are drawn small, to a grid, and enlarged by the encoder: nothing in
// them is finer than a cell.
const (
	gridWidth, gridHeight = 160, 90
	// Enlarge makes pictures of 960 by 540: nobody looks for detail in them, and an
	// encoder without a processor's special instructions takes a third of the time
	// that it needs for 1280 by 720.
	Enlarge = 6
)

// With returns an Encode that works with an encoder and makes pictures of 160 by
// 90 cells, each of enlarge by enlarge pixels. Two makings give the same bytes.
func With(encoder Encoder, enlarge int) Encode {
	return func(ctx context.Context, f *card.File, c card.Container, out string, progress func(frames int64)) error {
		audio := "pcm"
		if c == card.MP4 {
			audio = "aac"
		}
		sound := channel(f)
		return encoder.Encode(ctx, decoder.EncodeOptions{
			Path: out, Video: "h264-flat", Audio: audio, Width: gridWidth, Height: gridHeight, Enlarge: enlarge, Rate: f.Rate,
			Picture: pictures(f, progress), Sound: [][]float32{sound, sound}, SoundRate: card.SampleRate,
		})
	}
}

// pictures returns what fills in the frames of a file, and tells how many it has.
func pictures(f *card.File, progress func(frames int64)) func(i int, luma []byte) bool {
	dark, lit := f.Luma(gridWidth, gridHeight, false), f.Luma(gridWidth, gridHeight, true)
	return func(i int, luma []byte) bool {
		frame := int64(i)
		if progress != nil {
			progress(frame)
		}
		if frame >= f.Frames {
			return false
		}
		if f.Lit(frame) {
			copy(luma, lit)
		} else {
			copy(luma, dark)
		}
		return true
	}
}

// channel returns the sound as an encoder takes it.
func channel(f *card.File) []float32 {
	sound := f.Sound()
	samples := make([]float32, len(sound))
	for i, x := range sound {
		samples[i] = float32(x) / 32768
	}
	return samples
}

package decoder_test

import (
	"fmt"
	"strings"
	"testing"

	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
)

// What is encoded in step reads in step, from each kind of file. Half a sample is the least; AAC and Opus smear an
// onset over their windows; Matroska rounds to a millisecond.
func TestEncodedClipsReadInStep(t *testing.T) {
	t.Parallel()
	kinds := []struct {
		name, video, audio, rate string
		tolerance                float64
	}{
		{"clip.mov", "h264", "pcm", "29.97", 0.02},
		{"clip.mp4", "h264", "aac", "25", 0.5},
		{"clip.mov", "prores", "pcm", "23.976", 0.02},
		{"clip.mov", "mjpeg", "pcm", "59.94", 0.02},
		{"clip.mkv", "ffv1", "flac", "50", 1},
		{"clip.avi", "mpeg4", "pcm", "30", 0.02},
		{"clip.mkv", "vp9", "pcm", "24", 1},
		{"clip.ts", "h264", "aac", "29.97", 0.5},
	}
	for _, k := range kinds {
		t.Run(fmt.Sprint(k.name, k.video), func(t *testing.T) {
			t.Parallel()
			clip := usualClip(t, k.rate)
			made := clip.file(t, decodertest.Open(t, decoder.Limits{}), k.name, k.video, k.audio)
			for _, d := range []*decoder.Decoder{decodertest.Open(t, decoder.Limits{}), decodertest.OpenNative(t, decoder.Limits{})} {
				r, err := d.Decode(t.Context(), made, decoder.DecodeOptions{}, nil)
				if err != nil {
					t.Fatal(err)
				}
				within(t, fmt.Sprint("native ", d.Native()), offsets(t, r), len(clip.flash), 0, k.tolerance)
			}
		})
	}
}

func TestNativeEncodes(t *testing.T) {
	t.Parallel()
	clip := usualClip(t, "29.97")
	made := clip.file(t, decodertest.OpenNative(t, decoder.Limits{}), "clip.mov", "h264", "pcm")
	r, err := decodertest.OpenNative(t, decoder.Limits{}).Decode(t.Context(), made, decoder.DecodeOptions{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "native", offsets(t, r), len(clip.flash), 0, 0.02)
}

func TestEncodeSaysWhatToGive(t *testing.T) {
	t.Parallel()
	d := decodertest.OpenNative(t, decoder.Limits{})
	clip := usualClip(t, "25")
	good := decoder.EncodeOptions{
		Path: t.TempDir() + "/clip.mov", Video: "h264", Audio: "pcm", Width: 160, Height: 90, Rate: clip.rate,
		Picture: clip.picture, Sound: [][]float32{clip.sound()},
	}
	for want, spoil := range map[string]func(o *decoder.EncodeOptions){
		`no kind of file is called ".exe"`: func(o *decoder.EncodeOptions) { o.Path = "clip.exe" },
		"nothing to encode":                func(o *decoder.EncodeOptions) { o.Picture, o.Sound = nil, nil },
		`no video is called "mp3"`:         func(o *decoder.EncodeOptions) { o.Video = "mp3" },
		`no sound is called ""`:            func(o *decoder.EncodeOptions) { o.Audio = "" },
		"give even sizes above 0":          func(o *decoder.EncodeOptions) { o.Height = 91 },
		"no frame rate": func(o *decoder.EncodeOptions) {
			o.Rate = usualClip(t, "25").rate
			*o = decoder.EncodeOptions{Path: o.Path, Video: o.Video, Width: 2, Height: 2, Picture: o.Picture}
		},
		"make them equally long": func(o *decoder.EncodeOptions) { o.Sound = [][]float32{make([]float32, 2), nil} },
	} {
		o := good
		spoil(&o)
		if err := d.Encode(t.Context(), o); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}

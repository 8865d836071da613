package decoder_test

import (
	"bytes"
	"image/jpeg"
	"math"
	"strings"
	"testing"

	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/domain/recording"
)

func TestFramesFromAnInstant(t *testing.T) {
	t.Parallel()
	clip := usualClip(t, "29.97")
	file := clip.file(t, decodertest.OpenNative(t, decoder.Limits{}), "clip.mov", "h264", "pcm")
	both(t, decoder.Limits{}, func(t *testing.T, d *decoder.Decoder) {
		// The stamp that Decode gave for a frame finds that frame, although it is no whole number of milliseconds.
		frames, err := d.Frames(t.Context(), file, clip.at(33), 3, 64)
		if err != nil {
			t.Fatal(err)
		}
		if len(frames) != 3 {
			t.Fatalf("%d frames, want 3", len(frames))
		}
		for i, f := range frames {
			if math.Abs(f.PTS-clip.at(33+i)) > 1e-9 {
				t.Errorf("frame %d at %.7f, want %.7f", i, f.PTS, clip.at(33+i))
			}
			image, err := jpeg.Decode(bytes.NewReader(f.JPEG))
			if err != nil {
				t.Fatal(err)
			}
			if b := image.Bounds(); b.Dx() != 64 || b.Dy() != 36 {
				t.Errorf("frame of %v, want 64 x 36", b)
			}
			if red, _, _, _ := image.At(32, 18).RGBA(); (red > 0x8000) != clip.lit(33+i) {
				t.Errorf("frame %d has red %#x, lit %v", 33+i, red, clip.lit(33+i))
			}
		}
		last, err := d.Frames(t.Context(), file, clip.at(78), 10, 64)
		if err != nil || len(last) != 2 {
			t.Errorf("%d frames at the end with error %v, want 2", len(last), err)
		}
	})
}

// TestLateFramesAreReachedByAJump: by both decoders, in files whose key frames are
// 250 frames apart, and in one of pieces without an index; the time stamps are
// those of the first frame of the encoder's rate, which is exact.
func TestLateFramesAreReachedByAJump(t *testing.T) {
	t.Parallel()
	picture := []string{"-f", "lavfi", "-i", "testsrc=s=160x90:r=30000/1001:d=11"}
	files := map[string]string{
		"movie":     ffmpeg(t, append(picture, "-c:v", "libx264", "-preset", "ultrafast", "clip.mp4")...),
		"transport": ffmpeg(t, append(picture, "-c:v", "mpeg2video", "-muxdelay", "0", "-muxpreload", "0", "clip.ts")...),
	}
	const frame = 3003.0 / 90000
	both(t, decoder.Limits{}, func(t *testing.T, d *decoder.Decoder) {
		for name, file := range files {
			start := 0.0
			if name == "transport" {
				first, err := d.Frames(t.Context(), file, -1, 1, 64)
				if err != nil || len(first) != 1 {
					t.Fatalf("%s: %v %v", name, first, err)
				}
				start = first[0].PTS
			}
			for _, i := range []int{120, 249, 250, 280} {
				frames, err := d.Frames(t.Context(), file, start+float64(i)*frame, 2, 64)
				if err != nil || len(frames) != 2 || math.Abs(frames[0].PTS-start-float64(i)*frame) > 2e-5 {
					t.Errorf("%s: frame %d: %d frames, %v", name, i, len(frames), err)
					continue
				}
				if math.Abs(frames[1].PTS-frames[0].PTS-frame) > 2e-5 {
					t.Errorf("%s: frame %d at %.6f is followed by one at %.6f", name, i, frames[0].PTS, frames[1].PTS)
				}
			}
		}
	})
}

func TestFramesOfSoundOnly(t *testing.T) {
	t.Parallel()
	file := ffmpeg(t, "-f", "lavfi", "-i", "sine=d=1", "clip.wav")
	d := decodertest.OpenNative(t, decoder.Limits{})
	_, err := d.Frames(t.Context(), file, 0, 1, 64)
	if refusal, ok := decoder.RefusalOf(err); !ok || refusal.Code != recording.NoVideo {
		t.Errorf("error %v, want the refusal no-video", err)
	}
	if _, err := d.Frames(t.Context(), file, 0, 1000, 64); err == nil || !strings.Contains(err.Error(), "ask for 1 to 120") {
		t.Errorf("error %v, want one that says how many", err)
	}
}

package decoder_test

import (
	"strings"
	"testing"
	"time"

	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
)

func infoOf(codec string, width, height int, fps, seconds float64) decoder.Info {
	return decoder.Info{DurationS: seconds, Video: &decoder.VideoInfo{Codec: codec, Width: width, Height: height, NominalFPS: fps}, Sounds: make([]decoder.SoundInfo, 1)}
}

func TestEstimate(t *testing.T) {
	t.Parallel()
	builtin, native := decodertest.Open(t, decoder.Limits{}), decodertest.OpenNative(t, decoder.Limits{})
	phone := infoOf("h264", 1920, 1080, 29.97, 20)
	// 20 s x 29.97 x 2.0736 Mpixel x 14 ns, and a second for the rest.
	if got := builtin.Estimate(phone, decoder.DecodeOptions{}); got < 17*time.Second || got > 20*time.Second {
		t.Errorf("20 s of 1080p29.97 H.264: %v", got)
	}
	if got := native.Estimate(phone, decoder.DecodeOptions{}); got > 8*time.Second {
		t.Errorf("the same, native: %v", got)
	}
	long := infoOf("h264", 1920, 1080, 29.97, 3600)
	if a, b := builtin.Estimate(long, decoder.DecodeOptions{}), builtin.Estimate(infoOf("h264", 1920, 1080, 29.97, 30), decoder.DecodeOptions{}); a != b {
		t.Errorf("an hour, of which 30 s are decoded: %v, and of 30 s %v", a, b)
	}
	if got := builtin.Estimate(long, decoder.DecodeOptions{SoundOnly: true}); got > 3*time.Second {
		t.Errorf("its sound only: %v", got)
	}
}

func TestAdviceForHEVC(t *testing.T) {
	t.Parallel()
	builtin, native := decodertest.Open(t, decoder.Limits{}), decodertest.OpenNative(t, decoder.Limits{})
	hevc := infoOf("hevc", 1920, 1080, 29.97, 30)
	got := builtin.Advice(hevc, decoder.DecodeOptions{})
	for _, want := range []string{"about 2 min", "HEVC", "--decoder ffmpeg", "9 times faster"} {
		if !strings.Contains(got, want) {
			t.Errorf("advice %q says nothing of %q", got, want)
		}
	}
	if got := native.Advice(hevc, decoder.DecodeOptions{}); got != "" {
		t.Errorf("advice %q for what takes seconds", got)
	}
	if got := builtin.Advice(infoOf("h264", 1280, 720, 25, 20), decoder.DecodeOptions{}); got != "" {
		t.Errorf("advice %q for a short clip in H.264", got)
	}
}

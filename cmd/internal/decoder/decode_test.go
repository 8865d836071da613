package decoder_test

import (
	"math"
	"slices"
	"testing"

	"delaybook/cmd/internal/decoder"
	"delaybook/domain/recording"

	"github.com/google/go-cmp/cmp"
)

func TestDecodeTellsWhatTheFileHolds(t *testing.T) {
	t.Parallel()
	// Two streams of sound, of which the second has two channels: 1000 Hz left, 2000 Hz right.
	file := ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=320x180:r=30000/1001:d=1",
		"-f", "lavfi", "-i", "sine=500:r=48000:d=1", "-f", "lavfi", "-i", "aevalsrc='sin(2*PI*1000*t)/2|sin(2*PI*2000*t)/4':s=48000:d=1",
		"-map", "0", "-map", "1", "-map", "2", "-c:v", "libx264", "-c:a", "pcm_s24le", "clip.mov")
	both(t, decoder.Limits{}, func(t *testing.T, d *decoder.Decoder) {
		var done []float64
		r, err := d.Decode(t.Context(), file, decoder.DecodeOptions{}, func(x float64) { done = append(done, x) })
		if err != nil {
			t.Fatal(err)
		}
		v := r.Video
		want := recording.Video{
			Codec: "h264", SourceWidth: 320, SourceHeight: 180, Width: 96, Height: 108,
			Scan: recording.Progressive, NominalFPS: 30000.0 / 1001, PTS: v.PTS, Luma: v.Luma,
		}
		if diff := cmp.Diff(want, *v); diff != "" {
			t.Errorf("video (-want +got):\n%s", diff)
		}
		if len(v.PTS) != 30 || len(v.Luma) != 30*96*108 {
			t.Fatalf("%d frames, %d bytes of luma, want 30 of 96 x 108", len(v.PTS), len(v.Luma))
		}
		for i, pts := range v.PTS {
			if math.Abs(pts-float64(i)*1001/30000) > 1e-9 {
				t.Errorf("frame %d at %.9f, want a multiple of 1001/30000", i, pts)
			}
		}
		if len(r.Sounds) != 2 || len(r.Sounds[0].Channels) != 1 || len(r.Sounds[1].Channels) != 2 {
			t.Fatalf("%d streams of sound, want one of 1 channel and one of 2", len(r.Sounds))
		}
		second := r.Sounds[1]
		if second.Stream != 1 || second.StartS != 0 || second.Rate != 48000 || len(second.Channels[0]) != 48000 {
			t.Errorf("second stream: %d from %v, %d samples", second.Stream, second.StartS, len(second.Channels[0]))
		}
		for c, hz := range []float64{1000, 2000} {
			for i, got := range second.Channels[c][:100] {
				// Half a step of 16 bits, and what dither may add.
				if want := math.Sin(2*math.Pi*hz*float64(i)/48000) / (2 * float64(c+1)); math.Abs(float64(got)-want) > 2.0/32768 {
					t.Fatalf("channel %d, sample %d is %v, want %v", c, i, got, want)
				}
			}
		}
		if len(r.Flags) != 0 || r.Container != "mov" || math.Abs(r.DurationS-1.001) > 0.001 {
			t.Errorf("container %s of %v s with flags %v", r.Container, r.DurationS, r.Flags)
		}
		if len(done) == 0 || !slices.IsSorted(done) || done[len(done)-1] < 0.9 || done[len(done)-1] > 1 {
			t.Errorf("progress %v, want it to grow to 1", done)
		}
	})
}

// Levels stay as they were coded: clip reads how much of a frame was lit from
// them, and takes 255 for overexposed. A stretch from 16..235 to 0..255 would
// overexpose every white of a recording with 10 bits.
func TestDecodeKeepsLevelsAsCoded(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		video       []string
		dark, light byte
		full        bool
	}{
		"8 bits":      {[]string{"-c:v", "libx264", "-pix_fmt", "yuv420p"}, 16, 235, false},
		"8 bits, tv":  {[]string{"-c:v", "libx264", "-pix_fmt", "yuv420p", "-color_range", "tv"}, 16, 235, false},
		"10 bits, tv": {[]string{"-c:v", "prores_ks", "-pix_fmt", "yuv422p10le", "-color_range", "tv"}, 16, 235, false},
		"full":        {[]string{"-c:v", "mjpeg", "-pix_fmt", "yuvj420p"}, 0, 255, true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			args := []string{
				"-f", "lavfi", "-i", "color=black:s=64x64:r=25:d=0.2", "-f", "lavfi", "-i", "color=white:s=64x64:r=25:d=0.2",
				"-filter_complex", "[0][1]concat=n=2",
			}
			file := ffmpeg(t, append(append(args, c.video...), "levels.mov")...)
			both(t, decoder.Limits{}, func(t *testing.T, d *decoder.Decoder) {
				r, err := d.Decode(t.Context(), file, decoder.DecodeOptions{}, nil)
				if err != nil {
					t.Fatal(err)
				}
				first, last := r.Video.Picture(0)[0], r.Video.Picture(len(r.Video.PTS) - 1)[0]
				if max(first, c.dark)-min(first, c.dark) > 1 || max(last, c.light)-min(last, c.light) > 1 || r.Video.FullRange != c.full {
					t.Errorf("%d to %d, full range %t, want %d to %d and %t", first, last, r.Video.FullRange, c.dark, c.light, c.full)
				}
			})
		})
	}
}

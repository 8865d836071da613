package decoder_test

import (
	"path/filepath"
	"testing"

	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/domain/recording"
)

// A flash that is in one field only lights the rows of that field and no other, in the small picture as in the frame.
func TestFieldsStayApart(t *testing.T) {
	t.Parallel()
	const width, height, lit = 160, 1080, 7
	for _, scan := range []recording.Scan{recording.Progressive, recording.TopFirst, recording.BottomFirst} {
		t.Run(string(scan), func(t *testing.T) {
			t.Parallel()
			file := filepath.Join(t.TempDir(), "clip.mov")
			clip := usualClip(t, "29.97")
			err := decodertest.OpenNative(t, decoder.Limits{}).Encode(t.Context(), decoder.EncodeOptions{
				Path: file, Video: "h264", Width: width, Height: height, Rate: clip.rate, Scan: scan,
				Picture: func(i int, luma []byte) bool {
					for k := range luma {
						luma[k] = 16
						if i == lit && (k/width)%2 == 1 {
							luma[k] = 235
						}
					}
					return i < 12
				},
			})
			if err != nil {
				t.Fatal(err)
			}
			both(t, decoder.Limits{}, func(t *testing.T, d *decoder.Decoder) {
				r, err := d.Decode(t.Context(), file, decoder.DecodeOptions{}, nil)
				if err != nil {
					t.Fatal(err)
				}
				if r.Video.Scan != scan {
					t.Errorf("scan %q, want %q", r.Video.Scan, scan)
				}
				if len(r.Video.PTS) != 12 {
					t.Fatalf("%d frames, want 12", len(r.Video.PTS))
				}
				for i := range r.Video.PTS {
					top, bottom := fieldMeans(r.Video, i)
					wantBottom := 16.0
					if i == lit {
						wantBottom = 235
					}
					// Coding rows that alternate costs some levels.
					if top < 13 || top > 26 || bottom < wantBottom-10 || bottom > wantBottom+10 {
						t.Errorf("frame %d: top field %.1f and bottom field %.1f, want 16 and %v", i, top, bottom, wantBottom)
					}
				}
			})
		})
	}
}

func fieldMeans(v *recording.Video, frame int) (top, bottom float64) {
	sums := [2]float64{}
	for k, b := range v.Picture(frame) {
		sums[(k/v.Width)%2] += float64(b)
	}
	n := float64(v.Width * v.Height / 2)
	return sums[0] / n, sums[1] / n
}

package decoder_test

import (
	"fmt"
	"syscall"
	"testing"
	"time"

	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
)

// BenchmarkDecode measures Decode of 20 s of 1920x1080 at 29.97 in H.264 with noise, at 12 Mb/s, with each decoder, and the
// processor time of its processes.
func BenchmarkDecode(b *testing.B) {
	file := ffmpeg(b, "-f", "lavfi", "-i", "testsrc2=s=1920x1080:r=30000/1001:d=20,noise=alls=12:allf=t",
		"-f", "lavfi", "-i", "sine=r=48000:d=20", "-c:v", "libx264", "-preset", "veryfast", "-b:v", "12M", "-c:a", "aac", "bench.mp4")
	for _, d := range []*decoder.Decoder{decodertest.OpenNative(b, decoder.Limits{}), decodertest.Open(b, decoder.Limits{})} {
		b.Run(fmt.Sprintf("native=%v", d.Native()), func(b *testing.B) {
			if err := d.Warm(b.Context()); err != nil {
				b.Fatal(err)
			}
			before := children(b)
			for b.Loop() {
				r, err := d.Decode(b.Context(), file, decoder.DecodeOptions{}, nil)
				if err != nil || len(r.Video.PTS) != 600 {
					b.Fatal(len(r.Video.PTS), err)
				}
			}
			b.ReportMetric((userTime(children(b))-userTime(before)).Seconds()/float64(b.N), "user-s/op")
		})
	}
}

func children(b *testing.B) syscall.Rusage {
	var usage syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_CHILDREN, &usage); err != nil {
		b.Fatal(err)
	}
	return usage
}

func userTime(u syscall.Rusage) time.Duration { return time.Duration(u.Utime.Nano()) }

package analyst

import (
	"math"
	"time"

	"delaybook/cmd/internal/decoder"
)

// speeds are millions of pixels of video decoded a second, on one core of a
// server of 2026: by the builtin decoder and by a native one. They are of 60
// frames of 1080p of each kind, measured once, and say no more than the order:
// what is being decoded corrects them soon.
var speeds = map[string]struct{ builtin, native float64 }{
	"h264":       {35, 100},
	"hevc":       {7, 73},
	"prores":     {18, 75},
	"mjpeg":      {46, 140},
	"vp9":        {21, 90},
	"vp8":        {25, 90},
	"mpeg2video": {50, 150},
}

// others is the speed of what the table does not have: careful.
var others = struct{ builtin, native float64 }{7, 60}

const (
	startTime  = time.Second // of the builtin decoder
	soundSpeed = 60          // seconds of sound a second
	usualFPS   = 60          // of a file that does not say
)

// decodingTime is about how long decoding takes, of at most so many seconds of
// a file.
func decodingTime(info decoder.Info, seconds float64, soundOnly, native bool) time.Duration {
	if info.DurationS > 0 {
		seconds = math.Min(seconds, info.DurationS)
	}
	took := seconds / soundSpeed
	if v := info.Video; v != nil && !soundOnly {
		speed, known := speeds[v.Codec]
		if !known {
			speed = others
		}
		fps := v.NominalFPS
		if fps <= 0 {
			fps = usualFPS
		}
		million := float64(v.Width) * float64(v.Height) * fps * seconds / 1e6
		if native {
			took += million / speed.native
		} else {
			took += million / speed.builtin
		}
	}
	if !native {
		took += startTime.Seconds()
	}
	return time.Duration(took * float64(time.Second))
}

package decoder

import (
	"fmt"
	"time"
)

// A cost is processor time in ns a pixel, measured on one core of a server of 2023 with 60 frames of 1920x1080 of a
// noisy test pattern at 12 Mb/s or the codec's usual rate (make bench measures H.264 again). Other pictures and
// machines differ by a factor of two either way.
type cost struct{ builtin, native float64 }

var costs = map[string]cost{
	"av1": {42, 4.5}, "dnxhd": {17, 6.5}, "h264": {14, 5.5}, "hevc": {61, 6.7}, "mjpeg": {11, 3.2},
	"mpeg2video": {6.8, 1.6}, "mpeg4": {19, 4.7}, "prores": {46, 17}, "vp9": {22, 5.5},
}

// otherCost is for codecs that were not measured: a dear one among those that were.
var otherCost = cost{40, 10}

// Estimate is about how long Decode will take, if a core is free.
func (d *Decoder) Estimate(info Info, o DecodeOptions) time.Duration {
	return estimate(info, o, d.Native())
}

func estimate(info Info, o DecodeOptions, native bool) time.Duration {
	usual(&o.MaxSeconds, 30)
	seconds := o.MaxSeconds
	if info.DurationS > 0 {
		seconds = min(seconds, info.DurationS)
	}
	start, sound := 0.8, 0.02 // s a call of both programs, and s a second of a stream of sound
	if native {
		start, sound = 0.1, 0.005
	}
	total := start + sound*seconds*float64(len(info.Sounds))
	if v := info.Video; v != nil && !o.SoundOnly {
		c, ok := costs[v.Codec]
		if !ok {
			c = otherCost
		}
		perPixel := c.builtin
		if native {
			perPixel = c.native
		}
		fps := v.NominalFPS
		if fps <= 0 || fps > 240 {
			fps = 60
		}
		total += seconds * fps * float64(v.Width) * float64(v.Height) * perPixel * 1e-9
	}
	return time.Duration(total * float64(time.Second)).Round(100 * time.Millisecond)
}

// Advice is a sentence or two for who waits: that a file will take long, and what
// would make it quicker. It is empty for a file that is done within a minute.
func (d *Decoder) Advice(info Info, o DecodeOptions) string {
	takes := d.Estimate(info, o)
	if takes <= time.Minute || info.Video == nil {
		return ""
	}
	text := fmt.Sprintf("Decoding will take about %s. ", shortDuration(takes))
	if d.Native() {
		return text + "20 seconds at 1920x1080 are enough, and quicker."
	}
	name := info.Video.Codec
	if name == "hevc" {
		name = "HEVC"
	}
	faster := takes.Seconds() / estimate(info, o, true).Seconds()
	return text + fmt.Sprintf("For %s a native decoder (--decoder ffmpeg) is some %.0f times faster; a camera set to H.264 helps, too.", name, faster)
}

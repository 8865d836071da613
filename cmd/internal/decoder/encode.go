package decoder

import (
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"delaybook/domain/recording"
	"delaybook/domain/timebase"
)

// EncodeOptions describe a file to make from grey pictures and sound.
type EncodeOptions struct {
	Path          string // written last, whole; its ending says the kind: .mov .mp4 .mkv .webm .avi .ts
	Video         string // "h264", "h264-flat", "mjpeg", "prores", "mpeg4", "vp9", "ffv1"; ignored without Picture
	Audio         string // "pcm", "aac", "opus", "flac"; ignored without Sound
	Width, Height int    // of the pictures given; even
	Enlarge       int    // makes each pixel so many wide and high in the file; 0: 1
	Rate          timebase.Rate
	Scan          recording.Scan // empty: progressive. The rows of the pictures are taken as they are

	// Picture fills in frame i: Width x Height of luma row by row, as coded (16 black, 235 white). False: the frame
	// before was the last. It is called from one other goroutine, in order.
	Picture func(i int, luma []byte) bool

	Sound     [][]float32 // channels of equal length, -1 to 1; the first sample is at the start of the first frame
	SoundRate int         // 0: 48000
}

var (
	videoCodecs = map[string][]string{
		"h264": {"libx264", "-preset", "veryfast", "-crf", "16", "-pix_fmt", "yuv420p"},
		// For areas of one grey that change at once: a third of the time, and no frame waits for a later one.
		"h264-flat": {
			"libx264", "-preset", "ultrafast", "-qp", "12", "-bf", "0", "-g", "60", "-pix_fmt", "yuv420p",
			"-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709",
		},
		"mjpeg":  {"mjpeg", "-q:v", "3", "-pix_fmt", "yuvj420p"},
		"prores": {"prores", "-pix_fmt", "yuv422p10le"},
		"mpeg4":  {"mpeg4", "-q:v", "3", "-pix_fmt", "yuv420p"},
		"vp9":    {"libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8", "-b:v", "4M", "-pix_fmt", "yuv420p"},
		"ffv1":   {"ffv1", "-pix_fmt", "yuv420p"},
	}
	audioCodecs = map[string][]string{
		"pcm": {"pcm_s16le"}, "aac": {"aac", "-b:a", "192k"}, "opus": {"libopus", "-b:a", "128k"}, "flac": {"flac"},
	}
	// Movies state some times in a unit of their own, by default a millisecond. In this one a frame of each usual rate
	// and a sample at 48 kHz are whole numbers. Their index comes first, so that playing can begin before all is there.
	muxers = map[string][]string{
		".mov": {"mov", "-movie_timescale", "720000", "-movflags", "+faststart"},
		".mp4": {"mp4", "-movie_timescale", "720000", "-movflags", "+faststart"},
		".mkv": {"matroska"}, ".webm": {"webm"}, ".avi": {"avi"}, ".ts": {"mpegts"},
	}
)

// Encode makes a file. Pictures and sound that were given in step are in step in
// it, to the exactness of the kind: half a sample in MOV and MP4, a millisecond
// in Matroska. The error says what to change in the options, or is the machine's.
func (d *Decoder) Encode(ctx context.Context, o EncodeOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	folder, err := os.MkdirTemp(filepath.Dir(o.Path), ".making-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	p := process{kind: "encode", out: filepath.Join(folder, "out", "file"), args: o.args}
	if err := os.Mkdir(filepath.Dir(p.out), 0o700); err != nil {
		return err
	}
	if len(o.Sound) > 0 {
		p.in = []string{filepath.Join(folder, "sound")}
		if err := writeSound(p.in[0], o.Sound); err != nil {
			return err
		}
	}
	if o.Picture != nil {
		p.stdin = &pictureReader{next: o.Picture, luma: o.Width * o.Height}
	}
	if err := d.run(ctx, p); err != nil {
		return fmt.Errorf("encode %s: %w", filepath.Base(o.Path), err)
	}
	if err := os.Chmod(p.out, 0o644); err != nil {
		return err
	}
	return os.Rename(p.out, o.Path)
}

func (o EncodeOptions) check() error {
	if muxers[filepath.Ext(o.Path)] == nil {
		return fmt.Errorf("no kind of file is called %q: use one of %s", filepath.Ext(o.Path), names(muxers))
	}
	if o.Picture == nil && len(o.Sound) == 0 {
		return fmt.Errorf("nothing to encode: give pictures, sound, or both")
	}
	if o.Picture != nil {
		if videoCodecs[o.Video] == nil {
			return fmt.Errorf("no video is called %q: use one of %s", o.Video, names(videoCodecs))
		}
		if o.Width <= 0 || o.Height <= 0 || o.Width%2+o.Height%2 > 0 || o.Enlarge < 0 {
			return fmt.Errorf("pictures of %d x %d, enlarged %d times: give even sizes above 0", o.Width, o.Height, o.Enlarge)
		}
		if o.Rate.IsZero() {
			return fmt.Errorf("no frame rate: give one")
		}
	}
	if len(o.Sound) > 0 && audioCodecs[o.Audio] == nil {
		return fmt.Errorf("no sound is called %q: use one of %s", o.Audio, names(audioCodecs))
	}
	for c, samples := range o.Sound {
		if len(samples) != len(o.Sound[0]) {
			return fmt.Errorf("channel %d has %d samples and channel 0 %d: make them equally long", c, len(samples), len(o.Sound[0]))
		}
	}
	return nil
}

func names[V any](of map[string]V) string {
	return strings.Join(slices.Sorted(maps.Keys(of)), " ")
}

func (o EncodeOptions) args(see paths) []string {
	args := []string{"-v", "error", "-y", "-protocol_whitelist", "file,pipe"}
	if o.Picture != nil {
		args = append(args, "-f", "rawvideo", "-pix_fmt", "yuv420p", "-s", fmt.Sprintf("%dx%d", o.Width, o.Height),
			"-framerate", o.Rate.String(), "-i", "pipe:0")
	}
	if len(o.Sound) > 0 {
		rate := o.SoundRate
		usual(&rate, soundRate)
		args = append(args, "-protocol_whitelist", "file,pipe", "-f", "f32le", "-ar", strconv.Itoa(rate),
			"-ac", strconv.Itoa(len(o.Sound)), "-i", see.in[0])
	}
	if o.Picture != nil {
		args = append(args, o.pictureArgs()...)
	}
	if len(o.Sound) > 0 {
		args = append(append(args, "-c:a"), audioCodecs[o.Audio]...)
	}
	// Without bitexact some writers look for chance, of which the builtin has none, and do not return.
	args = append(args, "-threads", "1", "-map_metadata", "-1", "-fflags", "+bitexact", "-flags:a", "+bitexact", "-f")
	return append(append(args, muxers[filepath.Ext(o.Path)]...), see.out)
}

func (o EncodeOptions) pictureArgs() []string {
	var args []string
	if o.Enlarge > 1 {
		args = append(args, "-vf", fmt.Sprintf("scale=%d:%d:flags=neighbor", o.Width*o.Enlarge, o.Height*o.Enlarge))
	}
	args = append(append(args, "-c:v"), videoCodecs[o.Video]...)
	switch o.Scan {
	case recording.TopFirst:
		return append(args, "-flags:v", "+bitexact+ildct+ilme", "-top", "1")
	case recording.BottomFirst:
		if o.Video == "h264" {
			args = append(args, "-x264-params", "bff=1")
		}
		return append(args, "-flags:v", "+bitexact+ildct+ilme", "-top", "0")
	}
	return append(args, "-flags:v", "+bitexact")
}

// A pictureReader is the stream of pictures, with grey added.
type pictureReader struct {
	next  func(i int, luma []byte) bool
	luma  int
	i     int
	frame []byte
	rest  []byte
}

func (r *pictureReader) Read(p []byte) (int, error) {
	if len(r.rest) == 0 {
		if r.frame == nil {
			r.frame = make([]byte, r.luma*3/2)
			for i := r.luma; i < len(r.frame); i++ {
				r.frame[i] = 128
			}
		}
		if !r.next(r.i, r.frame[:r.luma:r.luma]) {
			return 0, io.EOF
		}
		r.i++
		r.rest = r.frame
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}

func writeSound(name string, channels [][]float32) error {
	raw := make([]byte, 0, 4*len(channels)*len(channels[0]))
	for i := range channels[0] {
		for c := range channels {
			raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(channels[c][i]))
		}
	}
	return os.WriteFile(name, raw, 0o600)
}

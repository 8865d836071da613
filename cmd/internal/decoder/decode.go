package decoder

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"delaybook/domain/recording"
)

// pictureWidth and pictureHeight are the size of a small picture: two fields of 96 x 54.
const (
	pictureWidth  = 96
	pictureHeight = 108
)

// soundRate is that of every sound decoded, in samples a second.
const soundRate = 48000

// DecodeOptions say what of a file to decode.
type DecodeOptions struct {
	MaxSeconds float64 // of each stream from its beginning; 0: 30
	SoundOnly  bool    // leave the picture out: to compare tracks needs none, and is quick without
	Info       *Info   // what Probe said of the file; nil: it is probed
}

// Decode makes a recording of a file: every frame as a small picture with its
// exact time stamp, every channel of every stream of sound at 48 kHz. Time stamps
// are those that the file means, edit lists included; they are multiples of 1/90000
// s. Progress gets the part that is done, 0 to 1, from another goroutine; it may be
// nil. A file that gives no recording is an *Error.
//
// The loop filter of H.264 and its like is left out: it takes a third of the
// time and moves the mean of a picture by less than a tenth of a grey level.
func (d *Decoder) Decode(ctx context.Context, file string, o DecodeOptions, progress func(done float64)) (*recording.Recording, error) {
	info, err := d.probed(ctx, file, o)
	if err != nil {
		return nil, err
	}
	usual(&o.MaxSeconds, 30)
	plan, err := newPlan(info, o)
	if err != nil {
		return nil, err
	}
	got := &collected{plan: plan, limits: d.limits, streams: make([]packets, plan.streams()), progress: progress}
	err = d.tee(ctx, file, got.add, got.stamp, func(file string) []string { return d.decodeArgs(plan, file) })
	if refused := (*Error)(nil); errors.As(err, &refused) || ctx.Err() != nil {
		return nil, err
	}
	if err != nil && !got.any() {
		return nil, badFile(ctx, err)
	}
	r, assembleErr := got.recording()
	if assembleErr != nil {
		return nil, assembleErr
	}
	if err != nil || info.DurationS > o.MaxSeconds+0.5 {
		r.Flags = append(r.Flags, recording.FlagCutShort)
	}
	return r, nil
}

func (d *Decoder) probed(ctx context.Context, file string, o DecodeOptions) (Info, error) {
	if o.Info != nil {
		return *o.Info, nil
	}
	return d.Probe(ctx, file)
}

// A plan is which streams are decoded, in the order of the output.
type plan struct {
	info    Info
	options DecodeOptions
	video   *VideoInfo // nil: none
	sounds  []int      // indices into info.Sounds
}

func newPlan(info Info, o DecodeOptions) (plan, error) {
	p := plan{info: info, options: o, video: info.Video}
	if o.SoundOnly {
		p.video = nil
	}
	for i, s := range info.Sounds {
		// Phones add streams in formats of their own beside the one that everyone reads.
		if known(s.Codec) && s.Rate > 0 && s.Channels > 0 {
			p.sounds = append(p.sounds, i)
		}
	}
	if p.video != nil && !known(p.video.Codec) {
		return plan{}, refuse(unreadable("The picture is coded in a way that is not supported."), nil)
	}
	if p.streams() == 0 && len(info.Sounds) > 0 {
		return plan{}, refuse(unreadable("The sound is coded in a way that is not supported."), nil)
	}
	if p.streams() == 0 {
		return plan{}, refuse(recording.Refusal{
			Code: recording.NoAudio, Text: "The file has no sound.", Try: "Send a recording with sound.",
		}, nil)
	}
	return p, nil
}

func known(codec string) bool { return codec != "" && codec != "none" && codec != "unknown" }

func (p plan) streams() int {
	if p.video != nil {
		return len(p.sounds) + 1
	}
	return len(p.sounds)
}

// firstSound is the number of the first stream of sound in the output.
func (p plan) firstSound() int { return p.streams() - len(p.sounds) }

// filters scales the luma with its fields apart and brings each sound to one rate. Both writers get the packets of
// one interleaver, and each may shift its own time stamps, of which only those of framecrc are read.
func (p plan) filters() (graph string, maps []string) {
	var chains []string
	if p.video != nil {
		luma := "extractplanes=y"
		if !hasLuma(p.video.PixelFormat) {
			luma = "format=yuv444p," + luma
		}
		chains = append(chains, fmt.Sprintf("[0:%d]%s,scale=%d:%d:interl=1:flags=area:in_range=pc:out_range=pc,format=gray[v]",
			p.video.index, luma, pictureWidth, pictureHeight))
		maps = append(maps, "-map", "[v]")
	}
	for i, sound := range p.sounds {
		chains = append(chains, fmt.Sprintf("[0:%d]aresample=%d,aformat=sample_fmts=s16[a%d]", p.info.Sounds[sound].index, soundRate, i))
		maps = append(maps, "-map", fmt.Sprintf("[a%d]", i))
	}
	return strings.Join(chains, ";"), maps
}

// hasLuma tells whether a pixel format, as FFmpeg names it, has its luma in a plane.
func hasLuma(format string) bool {
	return !slices.ContainsFunc([]string{"rgb", "bgr", "gbr", "pal8", "bayer", "xyz"}, func(s string) bool { return strings.Contains(format, s) })
}

func (d *Decoder) decodeArgs(p plan, file string) []string {
	args := []string{
		"-v", "quiet", "-nostdin", "-copyts", "-noautorotate", "-threads", "1", "-max_pixels", strconv.Itoa(d.limits.Pixels), "-skip_loop_filter", "all",
		"-t", strconv.FormatFloat(p.options.MaxSeconds, 'f', 6, 64),
	}
	graph, maps := p.filters()
	args = append(append(args, reading(p.info.Container)...), "-i", file, "-filter_complex", graph)
	args = append(args, maps...)
	return append(args, "-fps_mode", "passthrough", "-enc_time_base:v", "1:90000", "-c:v", "rawvideo", "-c:a", "pcm_s16le",
		"-flush_packets", "1", "-f", "tee", teePipes)
}

package decoder

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"strconv"
	"strings"

	"delaybook/domain/recording"
)

// An Info is what a file says of itself, without decoding it.
type Info struct {
	Container  string // "mov", "matroska", "avi", "mpegts", "wav", ...
	Bytes      int64
	DurationS  float64 // 0: not said
	StampStepS float64 // to what the container rounds the start of a track; 0: exact enough not to matter
	Video      *VideoInfo
	Sounds     []SoundInfo
}

// A VideoInfo describes the first picture that moves.
type VideoInfo struct {
	Codec         string // as FFmpeg names it: "h264", "hevc", "prores", ...
	Width, Height int
	NominalFPS    float64 // 0: not said
	Scan          recording.Scan
	FullRange     bool
	PixelFormat   string // as FFmpeg names it
	index         int    // among all streams
}

// A SoundInfo describes one stream of sound.
type SoundInfo struct {
	Codec    string
	Rate     int // samples a second, in the file
	Channels int
	index    int
}

// probed is what ffprobe answers.
type probed struct {
	Streams []probedStream `json:"streams"`
	Format  struct {
		Duration string `json:"duration"`
	} `json:"format"`
}

type probedStream struct {
	Index       int    `json:"index"`
	Codec       string `json:"codec_name"`
	Kind        string `json:"codec_type"`
	Width       int    `json:"width"`
	Height      int    `json:"height"`
	PixelFormat string `json:"pix_fmt"`
	Range       string `json:"color_range"`
	FieldOrder  string `json:"field_order"`
	BaseRate    string `json:"r_frame_rate"`
	AverageRate string `json:"avg_frame_rate"`
	TimeBase    string `json:"time_base"`
	SampleRate  string `json:"sample_rate"`
	Channels    int    `json:"channels"`
	Disposition struct {
		Picture int `json:"attached_pic"`
	} `json:"disposition"`
}

// Probe reads what the file says of itself. It refuses what Decode would refuse
// for size, kind or damage, with an *Error; any other error is the machine's.
func (d *Decoder) Probe(ctx context.Context, file string) (Info, error) {
	container, size, err := d.look(file)
	if err != nil {
		return Info{}, err
	}
	const maxAnswer = 1 << 20
	var answer bytes.Buffer
	err = d.run(ctx, process{
		kind: "probe", in: []string{file}, stdout: &headWriter{w: &answer, left: maxAnswer},
		args: func(see paths) []string {
			return append(d.reading(container, see.in[0]), "-v", "error", "-show_format", "-show_streams", "-of", "json")
		},
	})
	if err != nil {
		return Info{}, badFile(ctx, err)
	}
	var p probed
	if err := json.Unmarshal(answer.Bytes(), &p); err != nil {
		return Info{}, refuse(unreadable("The beginning of the file is damaged."), err)
	}
	info := p.info(container, size)
	if container == "mov" {
		if err := info.addMovie(file); err != nil {
			return Info{}, err
		}
	}
	return info, d.check(info, len(p.Streams))
}

// reading is how both programs are told to read a file: with the demuxer that was sniffed, from this file only, and,
// for MOV and MP4, with time stamps as the edit list means them; the default snaps the first frame kept to zero.
func (d *Decoder) reading(container, file string) []string {
	args := []string{"-protocol_whitelist", "file", "-max_pixels", strconv.Itoa(d.limits.Pixels), "-f", container}
	if container == "mov" {
		args = append(args, "-advanced_editlist", "0")
	}
	return append(args, "-i", file)
}

func (p probed) info(container string, size int64) Info {
	info := Info{Container: container, Bytes: size, DurationS: positive(p.Format.Duration)}
	for _, s := range p.Streams {
		switch {
		case s.Kind == "audio":
			rate, _ := strconv.Atoi(s.SampleRate)
			info.Sounds = append(info.Sounds, SoundInfo{Codec: s.Codec, Rate: rate, Channels: s.Channels, index: s.Index})
			// An eighth of a millisecond is what matters; a sample is less.
			if step := fraction(s.TimeBase); step > 1.0/8000 {
				info.StampStepS = max(info.StampStepS, step)
			}
		case s.Kind == "video" && s.Disposition.Picture == 0 && info.Video == nil:
			info.Video = s.video()
		}
	}
	return info
}

func (s probedStream) video() *VideoInfo {
	v := &VideoInfo{
		Codec: s.Codec, Width: s.Width, Height: s.Height, PixelFormat: s.PixelFormat, index: s.Index,
		Scan: recording.Progressive, NominalFPS: fraction(s.AverageRate),
		FullRange: s.Range == "pc" || strings.HasPrefix(s.PixelFormat, "yuvj"),
	}
	if v.NominalFPS == 0 {
		v.NominalFPS = fraction(s.BaseRate)
	}
	// Two letters differ where both fields are stored as one picture. Writers then put the field that is shown first
	// in front (common practice; FFmpeg's own comment has it the other way round).
	switch s.FieldOrder {
	case "tt", "tb":
		v.Scan = recording.TopFirst
	case "bb", "bt":
		v.Scan = recording.BottomFirst
	}
	return v
}

func (info *Info) addMovie(file string) error {
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	m, err := readMovie(f, info.Bytes)
	if err != nil {
		return refuse(unreadable("The file is put together in a way that makes no sense."), err)
	}
	if m.pieces > 1 {
		return refuse(recording.Refusal{
			Code: recording.Unreadable, Text: "The file is an edit of several pieces, whose times cannot be told apart.",
			Try: "Send the clip as the camera wrote it, or export the edit as a new file.",
		}, nil)
	}
	if m.delayed && m.timeScale > 0 {
		info.StampStepS = max(info.StampStepS, 1/float64(m.timeScale))
	}
	return nil
}

// check refuses what costs too much. A file without picture or sound is for the analysis to refuse.
func (d *Decoder) check(info Info, streams int) error {
	if v := info.Video; v != nil && (v.Width <= 0 || v.Height <= 1) {
		return refuse(unreadable("The picture has no size."), nil)
	}
	if v := info.Video; v != nil && v.Width > d.limits.Pixels/v.Height {
		return refuse(tooBig(fmt.Sprintf("A frame of %d x %d pixels is more than is taken.", v.Width, v.Height),
			"Send it at 3840x2160 or less; 1920x1080 is quicker and no worse."), nil)
	}
	channels := 0
	for _, s := range info.Sounds {
		channels += max(s.Channels, 1)
	}
	if streams > d.limits.Streams || channels > d.limits.Channels {
		return refuse(tooBig(fmt.Sprintf("The file has %d streams and %d channels of sound; at most %d and %d are taken.",
			streams, channels, d.limits.Streams, d.limits.Channels), "Export it with only the tracks to be measured."), nil)
	}
	if info.Video == nil && len(info.Sounds) == 0 {
		return refuse(unreadable("The file holds neither picture nor sound."), nil)
	}
	return nil
}

// badFile tells a file that the program gave up on from a program that did not run.
func badFile(ctx context.Context, err error) error {
	exit := (*exec.ExitError)(nil)
	if _, refused := RefusalOf(err); refused || ctx.Err() != nil || !errors.As(err, &exit) {
		return err
	}
	// What the program refuses before it reads, and a shell that cannot set the limits, are no fault of the file.
	if code := exit.ExitCode(); code == 2 || code == 3 || code > 100 {
		return err
	}
	return refuse(unreadable("The file cannot be read: it is damaged, cut short, or of a kind that is not supported."), err)
}

// fraction reads "30000/1001"; 0 for what is none.
func fraction(text string) float64 {
	num, den, _ := strings.Cut(text, "/")
	a, b := positive(num), positive(den)
	if b == 0 {
		return 0
	}
	return a / b
}

func positive(text string) float64 {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || !(x > 0) || math.IsInf(x, 0) {
		return 0
	}
	return x
}

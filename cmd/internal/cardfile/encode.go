package cardfile

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"delaybook/domain/card"
)

// An FFmpeg runs FFmpeg, wherever it comes from.
type FFmpeg interface {
	// Encode runs it with arguments that name the files in as /in/NAME and what they write as /out/NAME, which are
	// found in the folder out afterwards.
	Encode(ctx context.Context, in []string, out string, arguments []string) error
}

// Pictures are drawn small, to a grid, and enlarged by the encoder: nothing in
// them is finer than a cell.
const (
	gridWidth, gridHeight = 160, 90
	// Enlarge makes pictures of 960 by 540: nobody looks for detail in them, and an
	// encoder without a processor's special instructions takes a third of the time
	// that it needs for 1280 by 720.
	Enlarge = 6
)

// With returns an Encode that works with ffmpeg and makes pictures of 160 by 90
// cells, each of enlarge by enlarge pixels.
func With(ffmpeg FFmpeg, enlarge int) Encode {
	return func(ctx context.Context, f *card.File, c card.Container, out string, progress func(frames int64)) error {
		folder := filepath.Dir(out)
		in, made := filepath.Join(folder, "in"), filepath.Join(folder, "out")
		for _, dir := range []string{in, made} {
			if err := os.Mkdir(dir, 0o700); err != nil {
				return err
			}
		}
		picture, sound := filepath.Join(in, "picture"), filepath.Join(in, "sound")
		if err := errors.Join(writePictures(f, picture), writeSound(f, sound)); err != nil {
			return err
		}
		ctx, stop := context.WithCancel(ctx)
		followed := make(chan struct{})
		go func() {
			defer close(followed)
			follow(ctx, filepath.Join(made, "progress"), progress)
		}()
		err := ffmpeg.Encode(ctx, []string{picture, sound}, made, arguments(f, c, enlarge))
		stop()
		<-followed
		if err != nil {
			return err
		}
		return os.Rename(filepath.Join(made, "card"), out)
	}
}

// arguments are those of ffmpeg. No frame depends on a later one, so that no
// player has to reorder them, and two seconds are the longest wait after a jump.
// Where the sound is AAC, the edit list cuts the encoder's run-up off. Two makings
// give the same bytes.
func arguments(f *card.File, c card.Container, enlarge int) []string {
	format, sound := "mov", []string{"-c:a", "pcm_s16le"}
	if c == card.MP4 {
		format, sound = "mp4", []string{"-c:a", "aac", "-b:a", "192k"}
	}
	gop := strconv.FormatInt(2*(f.Rate.Num()+f.Rate.Den()-1)/f.Rate.Den(), 10)
	args := []string{
		"-v", "error", "-nostdin", "-y", "-progress", "/out/progress",
		"-f", "rawvideo", "-pixel_format", "yuv420p", "-video_size", fmt.Sprintf("%dx%d", gridWidth, gridHeight),
		"-framerate", f.Rate.String(), "-i", "/in/picture",
		"-f", "s16le", "-ar", strconv.Itoa(card.SampleRate), "-ac", "2", "-i", "/in/sound",
		"-map", "0:v", "-map", "1:a",
		"-vf", fmt.Sprintf("scale=%d:%d:flags=neighbor", gridWidth*enlarge, gridHeight*enlarge),
		"-c:v", "libx264", "-preset", "ultrafast", "-qp", "12", "-bf", "0", "-g", gop, "-pix_fmt", "yuv420p", "-threads", "1",
		"-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709",
	}
	args = append(args, sound...)
	return append(args, "-map_metadata", "-1", "-fflags", "+bitexact", "-flags:v", "+bitexact", "-flags:a", "+bitexact",
		"-movflags", "+faststart", "-f", format, "/out/card")
}

// writePictures writes every frame, planar, with grey for both planes of colour.
func writePictures(f *card.File, path string) (err error) {
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	out := bufio.NewWriterSize(file, 1<<20)
	const noColour = 128
	colour := make([]byte, gridWidth*gridHeight/2)
	for i := range colour {
		colour[i] = noColour
	}
	dark := append(f.Luma(gridWidth, gridHeight, false), colour...)
	lit := append(f.Luma(gridWidth, gridHeight, true), colour...)
	for frame := range f.Frames {
		picture := dark
		if f.Lit(frame) {
			picture = lit
		}
		if _, err := out.Write(picture); err != nil {
			return err
		}
	}
	return out.Flush()
}

// writeSound writes both channels alike: an encoder that makes two of one lowers
// them by 3 dB.
func writeSound(f *card.File, path string) error {
	sound := f.Sound()
	body := make([]byte, 0, 4*len(sound))
	for _, x := range sound {
		body = binary.LittleEndian.AppendUint16(body, uint16(x))
		body = binary.LittleEndian.AppendUint16(body, uint16(x))
	}
	return os.WriteFile(path, body, 0o600)
}

// follow tells how far ffmpeg is, from the file it notes it in, until ctx ends.
func follow(ctx context.Context, path string, progress func(frames int64)) {
	if progress == nil {
		return
	}
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	for over := false; !over; {
		select {
		case <-ctx.Done():
			over = true // and look once more
		case <-tick.C:
		}
		if notes, err := os.ReadFile(path); err == nil {
			if frames, ok := lastFrame(string(notes)); ok {
				progress(frames)
			}
		}
	}
}

// lastFrame reads the last whole line "frame=N" of ffmpeg's notes.
func lastFrame(notes string) (frames int64, ok bool) {
	for line := range strings.Lines(notes) {
		if text, is := strings.CutPrefix(line, "frame="); is && strings.HasSuffix(text, "\n") {
			if n, err := strconv.ParseInt(strings.TrimSpace(text), 10, 64); err == nil {
				frames, ok = n, true
			}
		}
	}
	return frames, ok
}

package decoder

import (
	"context"
	"fmt"
	"math"
	"strconv"

	"delaybook/domain/recording"
)

// A Frame is one frame of a recording as an image to look at.
type Frame struct {
	PTS  float64 // s, on the recording's axis; the frame stands for half a period later
	JPEG []byte  // upright, in colour
}

// Limits of Frames: enough to step through a clap, and no more.
const (
	maxStepFrames = 120
	maxStepWidth  = 1920
)

// Frames answers at most n frames, 1 to 120, from the first one whose time stamp
// is at least fromS seconds, as images width pixels wide, 16 to 1920. Fewer mean
// that the file ends. Late frames are reached by a jump to the key frame before
// them where the file has an index that can be trusted; else everything up to
// fromS is decoded. A file without a picture is an *Error.
func (d *Decoder) Frames(ctx context.Context, file string, fromS float64, n, width int) ([]Frame, error) {
	if n < 1 || n > maxStepFrames || width < 16 || width > maxStepWidth {
		return nil, fmt.Errorf("%d frames of width %d: ask for 1 to %d of 16 to %d pixels", n, width, maxStepFrames, maxStepWidth)
	}
	if math.IsNaN(fromS) || math.Abs(fromS) > 1e6 {
		return nil, fmt.Errorf("frames from %v s: ask for a time in the recording", fromS)
	}
	info, err := d.Probe(ctx, file)
	if err != nil {
		return nil, err
	}
	if info.Video == nil {
		return nil, refuse(recording.Refusal{
			Code: recording.NoVideo, Text: "The file has no picture.", Try: "Send the recording with its picture.",
		}, nil)
	}
	if fromS > jumpFromS {
		frames, err := d.framesFrom(ctx, file, info, fromS-jumpAheadS, fromS, n, width)
		// The first frame is the one that the jump led to: before fromS, or nothing is known of what was passed over.
		if err == nil && len(frames) > 0 && frames[0].PTS < fromS-slack {
			return cutFrames(frames, fromS, n), nil
		}
	}
	frames, err := d.framesFrom(ctx, file, info, 0, fromS, n, width)
	return cutFrames(frames, fromS, n), err
}

const (
	jumpFromS  = 3.0  // before it a jump gains little
	jumpAheadS = 0.25 // how far ahead of what is wanted, for files whose first pictures after a jump are broken
	// Half a unit of the time stamps, because they are compared after rounding.
	slack = 1.0 / 180000
)

// framesFrom answers the first frame after a jump, 0 for none, and then up to n from fromS on.
func (d *Decoder) framesFrom(ctx context.Context, file string, info Info, jumpS, fromS float64, n, width int) ([]Frame, error) {
	graph := fmt.Sprintf("[0:%d]select='eq(n,0)+gte(t,%s)',scale=%d:-2:flags=area,format=yuvj420p[v]",
		info.Video.index, strconv.FormatFloat(fromS-slack, 'f', 7, 64), width)
	frames := &frameList{}
	err := d.tee(ctx, file, frames.add, frames.stamp, func(file string) []string {
		args := append([]string{"-v", "quiet", "-nostdin", "-copyts", "-threads", "1", "-max_pixels", strconv.Itoa(d.limits.Pixels)}, reading(info.Container)...)
		if jumpS > 0 {
			args = append(args, "-ss", strconv.FormatFloat(jumpS, 'f', 3, 64), "-seek_timestamp", "1", "-noaccurate_seek")
		}
		return append(args, "-i", file, "-filter_complex", graph, "-map", "[v]", "-frames:v", strconv.Itoa(n+1), "-fps_mode", "passthrough",
			"-enc_time_base:v", "1:90000", "-c:v", "mjpeg", "-q:v", "4", "-f", "tee", teePipes)
	})
	if err != nil && len(frames.images) == 0 {
		return nil, badFile(ctx, err)
	}
	return frames.list(), nil
}

// cutFrames leaves at most n frames from fromS on.
func cutFrames(frames []Frame, fromS float64, n int) []Frame {
	if len(frames) > 0 && frames[0].PTS < fromS-slack {
		frames = frames[1:]
	}
	return frames[:min(len(frames), n)]
}

// A frameList gathers images and time stamps, each from its own goroutine.
type frameList struct {
	images [][]byte
	stamps []float64
}

func (l *frameList) add(_ int, content []byte) error {
	l.images = append(l.images, append([]byte(nil), content...))
	return nil
}

func (l *frameList) stamp(_ int, s stamp) error {
	l.stamps = append(l.stamps, s.at)
	return nil
}

func (l *frameList) list() []Frame {
	var frames []Frame
	for i := range min(len(l.images), len(l.stamps)) {
		if !math.IsNaN(l.stamps[i]) {
			frames = append(frames, Frame{PTS: l.stamps[i], JPEG: l.images[i]})
		}
	}
	return frames
}

package decoder_test

import (
	"math"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"

	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/domain/recording"
)

// A trap is a way in which the time stamps of a file mislead a reader. Each file is made with the machine's FFmpeg
// from a clip of which the truth is known.
type trap struct {
	name      string
	file      string
	source    string   // the clip it is made of: "mp4" with AAC; empty: MOV with PCM
	before    []string // arguments before it
	arguments []string // after
	flashes   int
	wantMS    float64 // picture minus sound
	tolerance float64
	flag      recording.Flag // that has to be set; empty: none of the traps' flags may be
	stampStep float64
}

// The tolerances: half a sample where both are exact; half a millisecond where a container rounds to one, or a codec
// smears an onset.
var traps = []trap{
	{
		// The usual reader takes the first frame that is kept for the start, and is 31 ms off (measured with FFmpeg 5.1).
		name: "cut by stream copy between frames and within a group of pictures", file: "cut.mp4", source: "mp4",
		before: []string{"-ss", "0.777"}, arguments: []string{"-c", "copy"},
		flashes: 2, tolerance: 1, flag: recording.FlagEditListDropped,
	},
	{
		// A reader that ignores edit lists is 45 ms off: two frames of reordering less the priming of AAC.
		name: "frames reordered and priming of AAC", file: "b.mp4",
		arguments: []string{"-c:v", "libx264", "-bf", "2", "-c:a", "aac"}, flashes: 3, tolerance: 0.5,
	},
	{
		name: "AAC at 44100", file: "aac44.mp4",
		arguments: []string{"-c:v", "libx264", "-c:a", "aac", "-ar", "44100"}, flashes: 3, tolerance: 0.5,
	},
	{
		name: "sound that starts late", file: "late.mov",
		arguments: []string{"-af", "asetpts=PTS+0.34867/TB", "-c:v", "copy", "-c:a", "pcm_s16le"},
		flashes:   3, wantMS: -348.67, tolerance: 1, flag: recording.FlagStampStep, stampStep: 0.001,
	},
	{
		// This writer puts the picture 7 ms later, and a delay of 6.5 ms that readers take off the sound (RFC 9559,
		// CodecDelay): by its own specification the file is off, and so it is read.
		name: "WebM with Opus", file: "opus.webm",
		arguments: []string{"-c:v", "libvpx", "-deadline", "realtime", "-c:a", "libopus"},
		flashes:   3, wantMS: 7, tolerance: 1, flag: recording.FlagStampStep, stampStep: 0.001,
	},
	{
		name: "HEVC with frames reordered", file: "hevc.mov",
		arguments: []string{"-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=none:bframes=3", "-c:a", "pcm_s16le"}, flashes: 3, tolerance: 0.02,
	},
	{
		name: "transport stream that starts late", file: "late.ts",
		arguments: []string{"-c:v", "libx264", "-bf", "2", "-c:a", "aac", "-output_ts_offset", "3600"}, flashes: 3, tolerance: 0.5,
	},
}

func TestTimeStampTraps(t *testing.T) {
	t.Parallel()
	clip := usualClip(t, "29.97")
	native := decodertest.OpenNative(t, decoder.Limits{})
	truths := map[string]string{
		"":    clip.file(t, native, "truth.mov", "h264", "pcm"),
		"mp4": clip.file(t, native, "truth.mp4", "h264", "aac"),
	}
	for _, trap := range traps {
		t.Run(trap.name, func(t *testing.T) {
			t.Parallel()
			args := append(append(slices.Clone(trap.before), "-i", truths[trap.source]), trap.arguments...)
			file := ffmpeg(t, append(args, trap.file)...)
			both(t, decoder.Limits{}, func(t *testing.T, d *decoder.Decoder) {
				r, err := d.Decode(t.Context(), file, decoder.DecodeOptions{}, nil)
				if err != nil {
					t.Fatal(err)
				}
				if trap.wantMS < -100 {
					// The nearest beep is that of another flash: shift the sound by what is to be found.
					r.Sounds[0].StartS += trap.wantMS / 1000
					within(t, trap.name, offsets(t, r), trap.flashes, 0, trap.tolerance)
				} else {
					within(t, trap.name, offsets(t, r), trap.flashes, trap.wantMS, trap.tolerance)
				}
				for _, flag := range []recording.Flag{recording.FlagEditListDropped, recording.FlagStampStep, recording.FlagAudioGap} {
					if slices.Contains(r.Flags, flag) != (flag == trap.flag) {
						t.Errorf("flags %v, want only %q", r.Flags, trap.flag)
					}
				}
				if r.StampStepS != trap.stampStep {
					t.Errorf("stamp step %v s, want %v", r.StampStepS, trap.stampStep)
				}
			})
		})
	}
}

// A phone drops frames and stamps the others when it gets to it, and holds the picture sideways. The time stamps
// decoded are those in the file, each to 1/90000 s, and the rows are those of the sensor.
func TestPhoneWithVaryingRate(t *testing.T) {
	t.Parallel()
	file := ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=320x180:r=30:d=3",
		"-vf", "select='gt(mod(n*7,25),2)',settb=1/90000,setpts='PTS+mod(N*137,720)-360'",
		"-fps_mode", "passthrough", "-enc_time_base", "1:90000", "-video_track_timescale", "90000", "-c:v", "libx264", "-bf", "0",
		"-metadata:s:v", "rotate=90", "phone.mp4")
	out, err := exec.CommandContext(t.Context(), "ffprobe", "-v", "error", "-show_entries", "packet=pts_time", "-of", "csv=p=0", file).Output()
	if err != nil {
		t.Fatal(err)
	}
	var want []float64
	for _, line := range strings.Fields(string(out)) {
		pts, err := strconv.ParseFloat(strings.Trim(line, ","), 64)
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, pts)
	}
	both(t, decoder.Limits{}, func(t *testing.T, d *decoder.Decoder) {
		r, err := d.Decode(t.Context(), file, decoder.DecodeOptions{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Video.PTS) != len(want) || len(want) < 60 || len(want) > 85 {
			t.Fatalf("%d frames, ffprobe lists %d, want some of 90 dropped", len(r.Video.PTS), len(want))
		}
		for i, pts := range r.Video.PTS {
			// ffprobe prints microseconds.
			if math.Abs(pts-want[i]) > 1e-6 {
				t.Errorf("frame %d at %.6f, want %.6f", i, pts, want[i])
			}
		}
		if r.Video.SourceWidth != 320 || r.Video.SourceHeight != 180 {
			t.Errorf("frames of %d x %d, want those of the sensor", r.Video.SourceWidth, r.Video.SourceHeight)
		}
	})
}

// Where sound is missing there is silence as long as the hole, and what follows stays where it belongs.
func TestHolesInTheSound(t *testing.T) {
	t.Parallel()
	clip := usualClip(t, "25")
	truth := clip.file(t, decodertest.OpenNative(t, decoder.Limits{}), "truth.mov", "h264", "pcm")
	file := ffmpeg(t, "-i", truth, "-af", "aselect='not(between(t,0.8,1.2))'", "-c:v", "copy", "-c:a", "pcm_s16le", "holes.mkv")
	both(t, decoder.Limits{}, func(t *testing.T, d *decoder.Decoder) {
		r, err := d.Decode(t.Context(), file, decoder.DecodeOptions{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		within(t, "holes", offsets(t, r), len(clip.flash), 0, 1)
		if !slices.Contains(r.Flags, recording.FlagAudioGap) {
			t.Errorf("flags %v, want audio-gap", r.Flags)
		}
	})
}

// An edit of several pieces has no one time axis that can be read without its frames being moved.
func TestEditOfSeveralPieces(t *testing.T) {
	t.Parallel()
	clip := smallClip(t, "clip.mov")
	// The edit list of the picture gets a second entry in place of what follows the first: box size, count, entry.
	at := strings.Index(string(clip), "elst")
	doubled := slices.Clone(clip)
	doubled[at-1], doubled[at+11] = doubled[at-1]+12, 2
	list := clip[at+12 : at+24]
	// Grow each box around it: edts, trak, moov.
	for _, box := range []string{"edts", "trak", "moov"} {
		i := strings.LastIndex(string(clip[:at]), box) - 4
		size := int(doubled[i])<<24 | int(doubled[i+1])<<16 | int(doubled[i+2])<<8 | int(doubled[i+3])
		size += 12
		doubled[i], doubled[i+1], doubled[i+2], doubled[i+3] = byte(size>>24), byte(size>>16), byte(size>>8), byte(size)
	}
	doubled = slices.Insert(doubled, at+24, list...)
	_, refused := survives(t, decodertest.OpenNative(t, decoder.Limits{}), "edit", write(t, "edit.mov", doubled))
	if refused.Code != recording.Unreadable || !strings.Contains(refused.Text, "several pieces") {
		t.Errorf("refused with %+v, want several pieces", refused)
	}
}

package decoder_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/domain/recording"
)

var flips = flag.Int("flips", 30, "damaged files to try with the native decoder, a fifth of them with the builtin one")

// survives decodes a file that may be anything: it has to give a recording that is whole in itself, or a refusal.
func survives(t *testing.T, d *decoder.Decoder, what, file string) (*recording.Recording, recording.Refusal) {
	t.Helper()
	r, err := d.Decode(t.Context(), file, decoder.DecodeOptions{}, nil)
	if err != nil {
		refusal, ok := decoder.RefusalOf(err)
		if !ok || refusal.Text == "" || refusal.Try == "" {
			t.Errorf("%s: error %v, want a refusal that says what to do", what, err)
		}
		return nil, refusal
	}
	if r.Video != nil && len(r.Video.Luma) != len(r.Video.PTS)*r.Video.Width*r.Video.Height {
		t.Errorf("%s: %d bytes of luma for %d frames", what, len(r.Video.Luma), len(r.Video.PTS))
	}
	for _, s := range r.Sounds {
		for _, c := range s.Channels {
			if len(c) != len(s.Channels[0]) || len(c) > 40*48000 {
				t.Errorf("%s: channels of %d and %d samples", what, len(c), len(s.Channels[0]))
			}
		}
	}
	return r, recording.Refusal{}
}

func write(tb testing.TB, name string, content []byte) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), name)
	if err := os.WriteFile(path, content, 0o644); err != nil {
		tb.Fatal(err)
	}
	return path
}

func read(tb testing.TB, path string) []byte {
	tb.Helper()
	content, err := os.ReadFile(path)
	if err != nil {
		tb.Fatal(err)
	}
	return content
}

// smallClip is a second of picture and sound in each of two kinds of file, of which only the second can be read from
// the beginning.
func smallClip(tb testing.TB, name string) []byte {
	tb.Helper()
	return read(tb, ffmpeg(tb, "-f", "lavfi", "-i", "testsrc2=s=160x90:r=25:d=1", "-f", "lavfi", "-i", "sine=d=1",
		"-c:v", "libx264", "-preset", "ultrafast", "-c:a", "aac", name))
}

func TestTruncatedFiles(t *testing.T) {
	t.Parallel()
	mov, mkv := smallClip(t, "clip.mov"), smallClip(t, "clip.mkv")
	native, builtin := decodertest.OpenNative(t, decoder.Limits{}), decodertest.Open(t, decoder.Limits{})
	for tenth := range 10 {
		cut := func(whole []byte) []byte { return whole[:len(whole)*tenth/10] }
		// The index of this MOV is at its end, so that nothing of the beginning can be told.
		if _, refused := survives(t, native, "mov", write(t, "clip.mov", cut(mov))); refused.Code != recording.Unreadable {
			t.Errorf("%d tenths of a MOV: %q, want unreadable", tenth, refused.Code)
		}
		r, refused := survives(t, builtin, "mkv", write(t, "clip.mkv", cut(mkv)))
		if tenth >= 5 && (r == nil || len(r.Video.PTS) < 25*(tenth-2)/10) {
			t.Errorf("%d tenths of a Matroska file: %+v, want what is there", tenth, refused)
		}
	}
}

func TestFlippedBytes(t *testing.T) {
	t.Parallel()
	clips := map[string][]byte{}
	for _, name := range []string{"clip.mov", "clip.mkv", "clip.avi", "clip.ts"} {
		clips[name] = smallClip(t, name)
	}
	names := []string{"clip.mov", "clip.mkv", "clip.avi", "clip.ts"}
	random := rand.New(rand.NewPCG(7, 11))
	native, builtin := decodertest.OpenNative(t, decoder.Limits{}), decodertest.Open(t, decoder.Limits{})
	for i := range *flips {
		name := names[i%len(names)]
		damaged := bytes.Clone(clips[name])
		for range 1 + random.IntN(40) {
			// Half of the damage in the first and last kilobytes, where the structure is.
			at := random.IntN(len(damaged))
			if random.IntN(2) == 0 {
				at = (len(damaged) + random.IntN(4096) - 2048) % len(damaged)
			}
			damaged[at] ^= byte(1 + random.IntN(255))
		}
		file := write(t, name, damaged)
		survives(t, native, fmt.Sprint("native, file ", i), file)
		if i%5 == 0 {
			survives(t, builtin, fmt.Sprint("builtin, file ", i), file)
		}
	}
}

func TestScriptsInDisguise(t *testing.T) {
	t.Parallel()
	d := decodertest.OpenNative(t, decoder.Limits{})
	canary := write(t, "canary.mov", smallClip(t, "clip.mov"))
	for name, text := range map[string]string{
		"concat.mp4":   "ffconcat version 1.0\nfile '" + canary + "'\n",
		"playlist.mp4": "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\n" + canary + "\n#EXT-X-ENDLIST\n",
		"filter.mp4":   "movie=" + canary,
		"%03d.mp4":     "\x89PNG\r\n\x1a\n",
		"page.mov":     "<?xml version=\"1.0\"?><MPD></MPD>",
		"empty.mov":    "",
		"byte.mov":     "\x00",
		"sdp.mp4":      "v=0\no=- 0 0 IN IP4 127.0.0.1\nm=video 5004 RTP/AVP 96\n",
	} {
		if _, refused := survives(t, d, name, write(t, name, []byte(text))); refused.Code != recording.Unreadable {
			t.Errorf("%s: %q, want unreadable", name, refused.Code)
		}
	}
}

func TestOnlyPlainFilesAreRead(t *testing.T) {
	t.Parallel()
	clip := write(t, "clip.mov", smallClip(t, "clip.mov"))
	folder := t.TempDir()
	link, pipe := filepath.Join(folder, "link.mov"), filepath.Join(folder, "pipe.mov")
	if err := os.Symlink(clip, link); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	d := decodertest.OpenNative(t, decoder.Limits{})
	for _, file := range []string{link, pipe, folder} {
		if _, refused := survives(t, d, file, file); refused.Code != recording.Unreadable {
			t.Errorf("%s: %q, want unreadable", file, refused.Code)
		}
	}
	if _, err := d.Decode(t.Context(), clip+".none", decoder.DecodeOptions{}, nil); !os.IsNotExist(err) {
		t.Errorf("error %v for no file, want one that says so", err)
	}
}

func TestHeadersThatPromiseTooMuch(t *testing.T) {
	t.Parallel()
	clip := read(t, ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=160x90:r=25:d=1", "-c:v", "mjpeg", "clip.avi"))
	// The size stands in the headers of the file, little endian, and in each frame, big endian, height first.
	sized := func(kilo byte) []byte {
		b := bytes.ReplaceAll(clip, []byte{160, 0, 0, 0, 90, 0, 0, 0}, []byte{0, 4 * kilo, 0, 0, 0, 4 * kilo, 0, 0})
		return bytes.ReplaceAll(b, []byte{0, 90, 0, 160}, []byte{4 * kilo, 0, 4 * kilo, 0})
	}
	long := smallClip(t, "clip.mov")
	for _, box := range []string{"mvhd", "mdhd"} {
		for at := 0; ; {
			i := bytes.Index(long[at:], []byte(box))
			if i < 0 {
				break
			}
			at += i + 4
			scale := binary.BigEndian.Uint32(long[at+12:])
			binary.BigEndian.PutUint32(long[at+16:], uint32(min(uint64(scale)*36000, 1<<32-2)))
		}
	}
	both(t, decoder.Limits{}, func(t *testing.T, d *decoder.Decoder) {
		if _, refused := survives(t, d, "8k", write(t, "huge.avi", sized(8))); refused.Code != recording.TooBig {
			t.Errorf("8192 x 8192 pixels: %q, want too-big", refused.Code)
		}
		// FFmpeg itself takes no frame of that size, and so tells none.
		if _, refused := survives(t, d, "16k", write(t, "huger.avi", sized(16))); refused.Code != recording.Unreadable {
			t.Errorf("16384 x 16384 pixels: %q, want unreadable", refused.Code)
		}
		r, refused := survives(t, d, "10 h", write(t, "long.mov", long))
		if r == nil || r.DurationS < 30000 || len(r.Video.PTS) != 25 {
			t.Fatalf("a header of 10 hours: %+v, %+v, want the second that is there", refused, r)
		}
	})
}

func TestLimits(t *testing.T) {
	t.Parallel()
	file := ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=320x180:r=25:d=2", "-f", "lavfi", "-i", "sine=d=2", "-map", "0", "-map", "1", "-map", "1",
		"-c:v", "libx264", "-preset", "ultrafast", "-c:a", "pcm_s16le", "clip.mov")
	for _, c := range []struct {
		limits decoder.Limits
		want   recording.RefusalCode
	}{
		{decoder.Limits{Bytes: 1000}, recording.TooBig},
		{decoder.Limits{Pixels: 320*180 - 1}, recording.TooBig},
		{decoder.Limits{Streams: 2}, recording.TooBig},
		{decoder.Limits{Channels: 1}, recording.TooBig},
		{decoder.Limits{Frames: 49}, recording.TooLong},
		{decoder.Limits{OutputBytes: 100_000}, recording.TooLong},
		{decoder.Limits{Wall: time.Millisecond}, recording.TimedOut},
		{decoder.Limits{Frames: 50, Pixels: 320 * 180, Streams: 3, Channels: 2}, ""},
	} {
		if _, refused := survives(t, decodertest.OpenNative(t, c.limits), fmt.Sprint(c), file); refused.Code != c.want {
			t.Errorf("with %+v: %q, want %q", c.limits, refused.Code, c.want)
		}
	}
}

// A clip that takes long ends with its context and with its share of the processor, and no process stays behind.
func TestDecodingStops(t *testing.T) {
	t.Parallel()
	file := ffmpeg(t, "-f", "lavfi", "-i", "color=s=1920x1080:r=60:d=10", "-c:v", "libx264", "-preset", "ultrafast", "-g", "600", "clip.mov")
	builtin := decodertest.Open(t, decoder.Limits{CPU: time.Second})
	if _, refused := survives(t, builtin, "CPU", file); refused.Code != recording.TimedOut {
		t.Errorf("with one second of processor time: %q, want timed-out", refused.Code)
	}
	both(t, decoder.Limits{}, func(t *testing.T, d *decoder.Decoder) {
		if err := d.Warm(t.Context()); err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		var stopped time.Time
		_, err := d.Decode(ctx, file, decoder.DecodeOptions{}, func(float64) {
			if stopped.IsZero() {
				stopped = time.Now()
				cancel()
			}
		})
		if err != context.Canceled {
			t.Errorf("error %v, want that of the context", err)
		}
		// Two seconds is what a process gets that holds its pipes open.
		if took := time.Since(stopped); took > 10*time.Second {
			t.Errorf("it took %v to stop", took)
		}
	})
}

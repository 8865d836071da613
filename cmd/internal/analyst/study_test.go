package analyst_test

import (
	"flag"
	"math"
	"path/filepath"
	"testing"
	"time"

	"delaybook/cmd/internal/analyst"
	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/domain/clip/camera"
	"delaybook/domain/recording"
	"delaybook/domain/service"
	"delaybook/domain/timebase"
)

var trials = flag.Int("analyst.trials", 0, "recordings per row of the whole encoded study; 0: one of the rows for every run")

// A kind is how a recording is encoded and by which decoder.
type kind struct {
	file, video, audio string
	builtin            bool
}

// A row of the study: a scene, its kind, and what it has to reach.
type row struct {
	name   string
	always bool // also in the short form
	kind   kind
	rate   string
	change func(s *camera.Scene)
	worst  float64 // milliseconds that an offset may be wrong by
	drift  float64 // ppm that a drift may be wrong by; 0: it is not looked at
}

var (
	movie    = kind{"clip.mov", "h264", "pcm", false}
	phone    = kind{"clip.mp4", "h264", "aac", false}
	builtin  = kind{"clip.mp4", "h264-flat", "aac", true}
	editing  = kind{"clip.mov", "prores", "pcm", false}
	pictures = kind{"clip.avi", "mjpeg", "pcm", false}
	stream   = kind{"clip.ts", "h264", "aac", false}
	open     = kind{"clip.mkv", "vp9", "flac", false}
	lossless = kind{"clip.mkv", "ffv1", "flac", true}
	old      = kind{"clip.mov", "mpeg4", "pcm", true}
)

// rows are the targets of the analysis: 2 ms with a normal exposure, an eighth of a frame with a short one, 0.1 ms
// without a camera, 50 ppm of drift over 20 s and 20 ppm over 60 s, and the right pairs to +-2 s.
func rows() []row {
	shutter := func(e float64) func(*camera.Scene) { return func(s *camera.Scene) { s.Exposure = e } }
	at := func(ms float64) func(*camera.Scene) { return func(s *camera.Scene) { s.OffsetMS = ms } }
	drift := func(seconds, ppm float64) func(*camera.Scene) {
		return func(s *camera.Scene) { s.LengthS, s.DriftPPM = seconds, ppm }
	}
	fields := func(scan recording.Scan) func(*camera.Scene) { return func(s *camera.Scene) { s.Scan = scan } }
	return []row{
		{"H.264, AAC in MP4, builtin", true, builtin, "29.97", shutter(0.5), 2, 0},
		{"H.264, AAC in MP4", false, phone, "29.97", shutter(0.5), 2, 0},
		{"H.264, PCM in MOV, exposure 1", false, movie, "23.976", shutter(1), 2, 0},
		{"ProRes, PCM in MOV", false, editing, "24", shutter(0.5), 2, 0},
		{"MJPEG, PCM in AVI", false, pictures, "25", shutter(0.5), 2, 0},
		{"H.264, AAC in MPEG-TS", false, stream, "50", shutter(0.5), 2, 0},
		{"VP9, FLAC in Matroska", false, open, "30", shutter(0.5), 2, 0},
		{"FFV1, FLAC in Matroska, builtin", false, lossless, "59.94", shutter(0.5), 2, 0},
		{"MPEG-4, PCM in MOV, builtin", false, old, "60", shutter(0.5), 2, 0},
		{"exposure 0.05 at 24", true, phone, "24", shutter(0.05), 1e3 / 24 / 8, 0},
		{"exposure 0.05 at 29.97", false, phone, "29.97", shutter(0.05), 1001. / 30 / 8, 0},
		{"exposure 0.05 at 60", false, phone, "60", shutter(0.05), 1e3 / 60 / 8, 0},
		{"file on its frames", true, movie, "29.97", func(s *camera.Scene) { digital(s) }, 0.1, 0},
		{"file on its frames, AAC, builtin", false, builtin, "25", func(s *camera.Scene) { digital(s) }, 0.1, 0},
		{"offset -2000", false, phone, "25", at(-2000), 2, 0},
		{"offset 2000", true, phone, "25", at(2000), 2, 0},
		{"drift 0 over 20 s", false, phone, "29.97", drift(20, 0), 2, 50},
		{"drift -1000 over 20 s", true, phone, "29.97", drift(20, -1000), 2, 50},
		{"drift 50 over 60 s", false, phone, "24", drift(60, 50), 2, 20},
		{"top field first", false, movie, "25", fields(recording.TopFirst), 2, 0},
		{"bottom field first", false, movie, "29.97", fields(recording.BottomFirst), 2, 0},
		{"room RT60 1, -3 dB; tone at 0 dB", false, phone, "29.97", func(s *camera.Scene) { s.RT60, s.DRR, s.SNR = 1, -3, 0 }, 2, 0},
		{"overexposed", false, phone, "29.97", func(s *camera.Scene) { s.Gain, s.Blur = 3, 4 }, 2, 0},
		{"rolling 0.8 off centre", false, phone, "29.97", func(s *camera.Scene) { s.Rolling, s.OffCentre = 0.8, 0.25 }, 2, 0},
	}
}

// digital is a file of the card: beep and flash on the start of a frame.
func digital(s *camera.Scene) {
	s.Digital, s.OffsetMS, s.SNR, s.RT60 = true, 0, 90, 0
}

// encode makes a file of a scene. In it the first frame begins with the sound, so that the offset is smaller by the
// start of the first frame in the scene.
func encode(tb testing.TB, d *decoder.Decoder, k kind, s camera.Scene, rate timebase.Rate) (file string, offsetMS float64) {
	tb.Helper()
	r := s.Film()
	v := r.Video
	file = filepath.Join(tb.TempDir(), k.file)
	o := decoder.EncodeOptions{
		Path: file, Video: k.video, Audio: k.audio, Width: camera.Width, Height: camera.Height, Enlarge: 2, Rate: rate, Scan: s.Scan,
		Sound: r.Sounds[0].Channels, SoundRate: r.Sounds[0].Rate,
	}
	whole := s.Scan != recording.Progressive // rows made larger one by one would mix the fields
	if whole {
		o.Width, o.Height, o.Enlarge = camera.FullWidth, camera.FullHeight, 1
	}
	o.Picture = func(i int, luma []byte) bool {
		if i >= len(v.PTS) {
			return false
		}
		if whole {
			copy(luma, camera.FullFrame(v.Picture(i)))
		} else {
			copy(luma, v.Picture(i))
		}
		return true
	}
	if err := d.Encode(tb.Context(), o); err != nil {
		tb.Fatal(err)
	}
	return file, s.OffsetMS - 1e3*v.PTS[0]
}

// naive is what a person reads who takes the first frame of an event that is half lit, mean over the events.
func naive(v *recording.Video, f *recording.Finding) float64 {
	total := make([]float64, len(v.PTS))
	for k := range total {
		for _, y := range v.Picture(k) {
			total[k] += float64(y)
		}
	}
	sum, n := 0.0, 0
	for _, e := range f.Events {
		low, high := math.Inf(1), 0.0
		near := func(k int) bool { return math.Abs(v.PTS[k]-e.AtS-f.OffsetMS/1e3) < 0.12 }
		for k := range total {
			if near(k) {
				low, high = min(low, total[k]), max(high, total[k])
			}
		}
		for k := range total {
			if near(k) && total[k] > (low+high)/2 {
				sum += 1e3 * (v.PTS[k] - e.AtS)
				n++
				break
			}
		}
	}
	return sum / float64(max(n, 1))
}

// decoders opens the decoder of a kind.
func (k kind) decoder(tb testing.TB) *decoder.Decoder {
	tb.Helper()
	if k.builtin {
		return decodertest.Open(tb, decoder.Limits{})
	}
	return decodertest.OpenNative(tb, decoder.Limits{})
}

// TestEncodedStudy is the whole path: a simulated camera, a coder, a container, the decoder's process and the
// analysis. The shutter is that of the analysis; a real camera is not.
func TestEncodedStudy(t *testing.T) {
	t.Parallel()
	t.Logf("| %-34s | rate | error | u | naive | drift error |", "recording")
	total, covered := 0, 0
	for i, w := range rows() {
		if *trials == 0 && !w.always {
			continue
		}
		for trial := range max(*trials, 1) {
			if w.measure(t, uint64(100*trial+i)) {
				covered++
			}
			total++
		}
	}
	t.Logf("offsets covered %d of %d", covered, total)
	// 93 % of 20 or more; of fewer all but one.
	if covered < total-1 && float64(covered) < 0.93*float64(total) {
		t.Errorf("the intervals hold the truth in %d of %d, want 93 %%", covered, total)
	}
}

// measure makes and measures one recording, and tells whether its interval holds the truth.
func (w row) measure(t *testing.T, seed uint64) bool {
	t.Helper()
	rate, err := timebase.ParseRate(w.rate)
	if err != nil {
		t.Fatal(err)
	}
	s := camera.New(seed, 1e3/rate.FrameMS(), math.Round(8000*math.Sin(float64(seed)))/20)
	w.change(&s)
	d := w.kind.decoder(t)
	file, truth := encode(t, d, w.kind, s, rate)
	o := service.AnalysisOptions{Method: recording.ByClip}
	if s.LengthS > 30 {
		o.Segments = []service.Span{{FromS: 0, ToS: s.LengthS}}
	}
	r, _ := analyse(t, analyst.New(d, nil, time.Now), []string{file}, o)
	if r.Refused != nil {
		t.Errorf("%s: refused, %s", w.name, r.Refused.Code)
		return false
	}
	f := r.Finding
	middle := (f.Events[0].AtS + f.Events[len(f.Events)-1].AtS) / 2 // the offset is that of the middle of the events
	wrong := f.OffsetMS - truth - s.DriftPPM*1e-3*(middle-s.LengthS/2)
	decoded, err := d.Decode(t.Context(), file, decoder.DecodeOptions{MaxSeconds: s.LengthS}, nil)
	if err != nil {
		t.Fatal(err)
	}
	slope := math.NaN()
	if f.DriftPPM != nil {
		slope = *f.DriftPPM - s.DriftPPM
	}
	t.Logf("| %-34s | %s | %.2f | %.2f | %.2f | %.0f |", w.name, w.rate, wrong, f.UMS, naive(decoded.Video, f)-truth, slope)
	if math.Abs(wrong) > w.worst {
		t.Errorf("%s: wrong by %.3f ms, may be %.2f", w.name, wrong, w.worst)
	}
	if w.drift > 0 && !(math.Abs(slope) <= w.drift) {
		t.Errorf("%s: drift wrong by %.0f ppm, may be %.0f", w.name, slope, w.drift)
	}
	return math.Abs(wrong) <= 2*f.UMS
}

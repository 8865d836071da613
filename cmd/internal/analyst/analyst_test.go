package analyst_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"delaybook/cmd/internal/analyst"
	"delaybook/cmd/internal/analyst/cardtest"
	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/domain/recording"
	"delaybook/domain/service"
)

func TestMain(m *testing.M) {
	m.Run() // its result is the exit code of the binary
	decodertest.Remove()
}

func analyse(t *testing.T, a *analyst.Analyst, files []string, o service.AnalysisOptions) (recording.Result, []service.Progress) {
	t.Helper()
	var told []service.Progress
	r, err := a.Analyse(t.Context(), service.AnalysisRequest{Files: files, AnalysisOptions: o}, func(p service.Progress) { told = append(told, p) })
	if err != nil {
		t.Fatal(err)
	}
	return r, told
}

// TestACardIsMeasured: 12 s of the card, through a file and both decoders. The
// frames are exposed for half their time and nothing is clipped, so that 2 ms,
// the bound of the analysis for a camera, has room; MJPEG of a still scene adds none.
func TestACardIsMeasured(t *testing.T) {
	t.Parallel()
	native := decodertest.OpenNative(t, decoder.Limits{})
	for _, offset := range []float64{166.9, -45} {
		file := cardtest.File(t, native, offset, 12)
		for _, d := range []*decoder.Decoder{native, decodertest.Open(t, decoder.Limits{})} {
			r, told := analyse(t, analyst.New(d, nil, time.Now), []string{file}, service.AnalysisOptions{Method: recording.ByClip})
			if r.Refused != nil || math.Abs(r.OffsetMS-offset) > 2 || r.Evidence == nil {
				t.Errorf("offset %v: %+v %+v", offset, r.Finding, r.Refused)
			}
			if len(told) == 0 || told[0].Estimate <= 0 || told[len(told)-1].Done > 1 {
				t.Errorf("progress: %+v", told)
			}
		}
	}
}

func TestStretchesAreMeasuredByThemselves(t *testing.T) {
	t.Parallel()
	native := decodertest.OpenNative(t, decoder.Limits{})
	file := cardtest.File(t, native, 100, 14)
	r, _ := analyse(t, analyst.New(native, nil, time.Now), []string{file}, service.AnalysisOptions{
		Method: recording.ByClip, Segments: []service.Span{{FromS: 0, ToS: 6.5}, {FromS: 7, ToS: 14}},
	})
	if len(r.Segments) != 2 || math.Abs(r.Segments[1].OffsetMS-100) > 3 {
		t.Errorf("segments: %+v, refused %+v", r.Segments, r.Refused)
	}
}

func TestWhatIsNoRecordingIsRefused(t *testing.T) {
	t.Parallel()
	a := analyst.New(decodertest.OpenNative(t, decoder.Limits{}), nil, time.Now)
	text := filepath.Join(t.TempDir(), "words")
	if err := os.WriteFile(text, []byte("ffconcat version 1.0\nfile /etc/passwd\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, method := range []recording.Method{recording.ByClip, recording.ByTracks} {
		r, _ := analyse(t, a, []string{text}, service.AnalysisOptions{Method: method})
		if r.Refused == nil || r.Refused.Code != recording.Unreadable || r.Finding != nil || r.Segments == nil {
			t.Errorf("%s: %+v", method, r)
		}
	}
}

func TestWithoutADecoderItSaysWhatIsMissing(t *testing.T) {
	t.Parallel()
	_, lacking := decoder.Open(decoder.Options{Native: "/nowhere/ffmpeg"})
	if lacking == nil {
		t.Fatal("there is a decoder in /nowhere")
	}
	_, err := analyst.New(nil, lacking, time.Now).Analyse(t.Context(), service.AnalysisRequest{Files: []string{"x"}}, nil)
	if err == nil {
		t.Error("it measured without a decoder")
	}
}

func TestTheEstimateComesBeforehand(t *testing.T) {
	t.Parallel()
	native := decodertest.OpenNative(t, decoder.Limits{})
	file := cardtest.File(t, native, 0, 3)
	request := service.AnalysisRequest{Files: []string{file}, AnalysisOptions: service.AnalysisOptions{Method: recording.ByClip}}
	one, err := analyst.New(native, nil, time.Now).Estimate(t.Context(), request)
	if err != nil || one <= 0 || one > 10*time.Second {
		t.Errorf("3 s of a small picture take %v, %v", one, err)
	}
	request.Files = append(request.Files, file)
	if two, err := analyst.New(native, nil, time.Now).Estimate(t.Context(), request); err != nil || two != 2*one {
		t.Errorf("twice the same takes %v, %v, want %v", two, err, 2*one)
	}
	if got := analyst.New(native, nil, time.Now).Advice(t.Context(), request); got != "" {
		t.Errorf("there is no need to say %q", got)
	}
	long := service.AnalysisRequest{Files: []string{cardtest.File(t, native, 0, 20)}, AnalysisOptions: request.AnalysisOptions}
	long.Segments = []service.Span{{ToS: 36000}}
	if got := analyst.New(decodertest.Open(t, decoder.Limits{}), nil, time.Now).Advice(t.Context(), long); got != "" {
		t.Errorf("20 s of a small picture are quick, whatever is asked for, and it says %q", got)
	}
}

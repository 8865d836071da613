package analyst_test

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"delaybook/cmd/internal/analyst"
	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
	"delaybook/domain/recording"
	"delaybook/domain/service"
)

// TestTracksAreCompared: the same noise in two channels, 20 ms later in the first.
// At 48 kHz that is 960 samples; the file holds them as they are, so that what is
// left is the comparison's own, far below a sample (0.021 ms).
func TestTracksAreCompared(t *testing.T) {
	t.Parallel()
	const rate, delay, seconds, wantMS = 48000, 960, 10, 20.0
	random := rand.New(rand.NewPCG(1, 2))
	first, second := make([]float32, seconds*rate), make([]float32, seconds*rate)
	for i := range second {
		second[i] = float32(0.1 * random.NormFloat64())
		if i+delay < len(first) {
			first[i+delay] = second[i]
		}
	}
	native := decodertest.OpenNative(t, decoder.Limits{})
	file := filepath.Join(t.TempDir(), "two.mov")
	if err := native.Encode(t.Context(), decoder.EncodeOptions{Path: file, Audio: "pcm", Sound: [][]float32{first, second}}); err != nil {
		t.Fatal(err)
	}
	a := analyst.New(native, nil, time.Now)
	whole, _ := analyse(t, a, []string{file}, service.AnalysisOptions{Method: recording.ByTracks})
	if whole.Refused != nil || math.Abs(whole.OffsetMS-wantMS) > 0.021 {
		t.Errorf("whole: %+v %+v", whole.Finding, whole.Refused)
	}
	parts, _ := analyse(t, a, []string{file}, service.AnalysisOptions{
		Method: recording.ByTracks, Segments: []service.Span{{FromS: 0, ToS: 4.5}, {FromS: 5, ToS: 10}, {FromS: 20, ToS: 30}},
		First: &recording.Track{Channel: 1}, Sound: &recording.Track{Channel: 0},
	})
	if parts.Refused != nil || len(parts.Segments) != 2 {
		t.Fatalf("parts: %+v %+v", parts.Segments, parts.Refused)
	}
	for i, f := range parts.Segments { // the other way round: the first is now the earlier
		if math.Abs(f.OffsetMS+wantMS) > 0.021 || f.FromS < float64(5*i)-0.5 {
			t.Errorf("part %d: %+v", i, f)
		}
	}
	none, _ := analyse(t, a, []string{file}, service.AnalysisOptions{Method: recording.ByTracks, Segments: []service.Span{{FromS: 20, ToS: 30}}})
	if none.Refused == nil || none.Finding != nil {
		t.Errorf("a stretch behind the end: %+v", none)
	}
}

package pages_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"delaybook/domain/recording"
	"delaybook/domain/service"
)

// A scripted analyst stands for the decoder: the "recording" says in its own
// words what is found in it, one a line, so that answers rest on the bytes that
// arrived:
//
//	offset MS        a measured stretch
//	refuse CODE      no number
//	break TEXT       the analysis breaks off
//	hold SECONDS     it takes so long
type scripted struct{}

// Estimate is the same for all.
func (scripted) Estimate(context.Context, service.AnalysisRequest) (time.Duration, error) {
	return 40 * time.Second, nil
}

// Analyse finds what the lines say.
func (scripted) Analyse(ctx context.Context, r service.AnalysisRequest, progress func(service.Progress)) (recording.Result, error) {
	result := recording.Result{Method: r.Method, FrameRate: "30000/1001", DurationS: 20, Segments: []recording.Finding{}, Flags: []recording.Flag{}}
	text, err := os.ReadFile(r.Files[0])
	if err != nil {
		return result, err
	}
	for line := range strings.Lines(string(text)) {
		word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
		switch word {
		case "offset":
			result.Segments = append(result.Segments, stretch(rest, len(result.Segments)))
		case "refuse":
			result.Refused = &recording.Refusal{Code: recording.RefusalCode(rest), Text: "No flash was seen.", Try: "Film the card so that it fills the picture."}
		case "break":
			return result, errors.New(rest)
		case "hold":
			took, err := time.ParseDuration(rest)
			if err != nil {
				return result, err
			}
			progress(service.Progress{Done: 0.25, Estimate: 40 * time.Second})
			select {
			case <-time.After(took):
			case <-ctx.Done():
				return result, ctx.Err()
			}
		}
	}
	if result.Refused == nil && len(result.Segments) > 0 {
		result.Finding = &result.Segments[0]
		result.Flags = []recording.Flag{recording.FlagClipped}
		result.Warnings = []recording.Warning{{Code: recording.FlagClipped, Text: "The flash is overexposed.", Try: "Darken the card."}}
		curve := &recording.Series{StepS: 0.01, Values: bytes.Repeat([]byte{0, 255}, 50)}
		result.Evidence = &recording.Evidence{Light: curve, Sound: curve}
	}
	return result, nil
}

func stretch(ms string, n int) recording.Finding {
	var offset float64
	if _, err := fmt.Sscan(ms, &offset); err != nil {
		panic(err)
	}
	return recording.Finding{
		FromS: float64(10 * n), ToS: float64(10*n + 10), OffsetMS: offset, UMS: 1.8, This95: [2]float64{offset - 3.6, offset + 3.6},
		Events: []recording.Event{{AtS: float64(10*n) + 1.5, OffsetMS: offset, UMS: 2, Confidence: 1, Used: true}}, Flags: []recording.Flag{},
	}
}

// scriptFile is a recording whose lines are what is found in it.
func scriptFile(t *testing.T, lines ...string) string {
	t.Helper()
	path := t.TempDir() + "/VID_0412.mp4"
	if err := os.WriteFile(path, []byte(strings.Join(lines, "\n")), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// clip is the identifier of a recording of the hall that has come to a state.
func (c *company) clip(t *testing.T, state service.ClipState, lines ...string) string {
	t.Helper()
	upload, err := c.Clips.Upload(t.Context(), c.editor(t), "harbour-hall")
	if err == nil {
		err = upload.Add("VID_0412.mp4", strings.NewReader(strings.Join(lines, "\n")))
	}
	if err != nil {
		t.Fatal(err)
	}
	clip, err := c.Clips.Add(t.Context(), c.editor(t), "harbour-hall", service.NewClip{}, upload)
	for range 300 {
		if err != nil {
			t.Fatal(err)
		}
		if clip.State == state {
			break
		}
		time.Sleep(100 * time.Millisecond)
		clip, err = c.Clips.Clip(t.Context(), c.editor(t), clip.ID.String())
	}
	if clip.State != state {
		t.Fatalf("the recording is %s, want %s", clip.State, state)
	}
	return clip.ID.String()
}

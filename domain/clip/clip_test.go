package clip_test

import (
	"math"
	"testing"

	"delaybook/domain/clip"
	"delaybook/domain/clip/camera"
)

func TestAnOrdinaryRecording(t *testing.T) {
	t.Parallel()
	s := camera.New(1, 30000.0/1001, 123.4)
	got := clip.Analyse(s.Film(), clip.Options{})
	if got.Refused != nil {
		t.Fatalf("refused: %v", got.Refused)
	}
	if math.Abs(got.OffsetMS-123.4) > 0.5 || got.FrameRate != "30000/1001" {
		t.Errorf("offset %.2f ms at %s, want 123.4 within 0.5 at 30000/1001", got.OffsetMS, got.FrameRate)
	}
}

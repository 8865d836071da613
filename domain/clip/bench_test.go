package clip_test

import (
	"testing"

	"delaybook/domain/clip"
	"delaybook/domain/clip/camera"
)

// BenchmarkAnalyse20s is 600 frames and a million samples, one channel.
func BenchmarkAnalyse20s(b *testing.B) {
	s := camera.New(1, 30000.0/1001, 123.4)
	s.LengthS = 20
	r := s.Film()
	for b.Loop() {
		clip.Analyse(r, clip.Options{})
	}
}

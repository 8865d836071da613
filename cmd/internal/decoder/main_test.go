package decoder_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
)

func TestMain(m *testing.M) {
	code := m.Run()
	decodertest.Remove()
	os.Exit(code)
}

// ffmpeg makes a file with the machine's FFmpeg, which is not the code under test: the last argument is its name, in
// a folder of the test. It answers the path.
func ffmpeg(tb testing.TB, args ...string) string {
	tb.Helper()
	file := filepath.Join(tb.TempDir(), args[len(args)-1])
	args = append([]string{"-v", "error", "-nostdin", "-y"}, append(args[:len(args)-1:len(args)-1], file)...)
	if out, err := exec.CommandContext(tb.Context(), "ffmpeg", args...).CombinedOutput(); err != nil {
		tb.Fatalf("ffmpeg (which .ci/setup installs): %v\n%s", err, out)
	}
	return file
}

// both runs a test with the builtin decoder and with the native one.
func both(t *testing.T, limits decoder.Limits, test func(t *testing.T, d *decoder.Decoder)) {
	t.Run("builtin", func(t *testing.T) {
		t.Parallel()
		test(t, decodertest.Open(t, limits))
	})
	t.Run("native", func(t *testing.T) {
		t.Parallel()
		test(t, decodertest.OpenNative(t, limits))
	})
}

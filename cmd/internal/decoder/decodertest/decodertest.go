// Package decodertest opens decoders for tests: the builtin one, built from the
// working tree, and the native one of the machine.
package decodertest

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"

	"delaybook/cmd/internal/decoder"
)

// build makes the program once a test binary. It lies in a cache, under a name that is moved into place whole, since
// other test binaries do the same at the same time.
var build = sync.OnceValues(func() (string, error) {
	caches, err := os.UserCacheDir()
	if err != nil {
		caches = os.TempDir()
	}
	folder := filepath.Join(caches, "delaybook", "test")
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return "", err
	}
	making, err := os.MkdirTemp(folder, "making-")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(making)
	made := filepath.Join(making, "delaybook-decode")
	if out, err := exec.Command("go", "build", "-buildvcs=false", "-o", made, "delaybook/cmd/delaybook-decode").CombinedOutput(); err != nil {
		return "", fmt.Errorf("build the decoder: %w\n%s", err, out)
	}
	program := filepath.Join(folder, fmt.Sprintf("delaybook-decode-%d", os.Getpid()))
	return program, os.Rename(made, program)
})

// Cache is the folder of the compiled builtin decoder, which tests share so that
// it is compiled once on a machine.
func Cache(tb testing.TB) string {
	tb.Helper()
	caches, err := os.UserCacheDir()
	if err != nil {
		caches = os.TempDir()
	}
	return filepath.Join(caches, "delaybook", "decoder")
}

// Program answers the path of delaybook-decode, built from the working tree.
func Program(tb testing.TB) string {
	tb.Helper()
	program, err := build()
	if err != nil {
		tb.Fatal(err)
	}
	return program
}

// Remove deletes the program built, if there is one. It is for the end of
// TestMain.
func Remove() {
	if program, err := build(); err == nil {
		_ = os.Remove(program)
	}
}

// opened are the builtin decoders by their limits: each warms once.
var opened sync.Map

// Open opens the builtin decoder with the limits given, the same one for the same
// limits.
func Open(tb testing.TB, limits decoder.Limits) *decoder.Decoder {
	tb.Helper()
	if d, ok := opened.Load(limits); ok {
		return d.(*decoder.Decoder)
	}
	d, err := decoder.Open(decoder.Options{Program: Program(tb), CacheDir: Cache(tb), Limits: limits})
	if err != nil {
		tb.Fatal(err)
	}
	first, _ := opened.LoadOrStore(limits, d)
	return first.(*decoder.Decoder)
}

// OpenNative opens the machine's FFmpeg with the limits given.
func OpenNative(tb testing.TB, limits decoder.Limits) *decoder.Decoder {
	tb.Helper()
	d, err := decoder.Open(decoder.Options{Native: "ffmpeg", Limits: limits})
	if err != nil {
		tb.Fatal(err, "; .ci/setup installs it")
	}
	return d
}

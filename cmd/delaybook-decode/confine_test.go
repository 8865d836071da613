// SPDX-License-Identifier: GPL-3.0-or-later

package main

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"delaybook/cmd/internal/decoder/decodertest"
)

func TestMain(m *testing.M) {
	code := m.Run()
	decodertest.Remove()
	os.Exit(code)
}

func put(tb testing.TB, path, content string) string {
	tb.Helper()
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		tb.Fatal(err)
	}
	return path
}

func TestOrders(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ args, wrong string }{
		{"", "say what to do first"},
		{"play", "say what to do first"},
		{"decode --in a", "--cache"},
		{"decode --cache /c", "one --in file"},
		{"probe --cache /c --in a --in b", "one --in file"},
		{"decode --cache /c --in a --out /o", "only encode has one"},
		{"encode --cache /c", "--out"},
		{"compile --cache /c --fast", "fast"},
		{"decode --cache /c --in a -- -f mov -i /in/a", ""},
		{"encode --cache /c --out /o -- -i pipe:0 /out/x", ""},
		{"compile --cache /c --cpu-seconds 5", ""},
	} {
		_, err := parse(strings.Fields(c.args))
		if (err == nil) != (c.wrong == "") || err != nil && !strings.Contains(err.Error(), c.wrong) {
			t.Errorf("%s: error %v, want one with %q", c.args, err, c.wrong)
		}
	}
}

// Whoever can write into the cache can have code run, so that a folder open to others is refused.
func TestCacheOfOthersIsRefused(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	fresh := filepath.Join(folder, "a", "fresh")
	release, err := openCache(fresh)
	if err != nil {
		t.Fatal(err)
	}
	release()
	if info, err := os.Stat(fresh); err != nil || info.Mode().Perm() != 0o700 {
		t.Errorf("a new cache is %v (error %v), want 0700", info.Mode(), err)
	}
	open, link, file := filepath.Join(folder, "open"), filepath.Join(folder, "link"), put(t, filepath.Join(folder, "file"), "")
	if err := errors.Join(os.Mkdir(open, 0o700), os.Chmod(open, 0o720), os.Symlink(fresh, link)); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{open: "open to other users", link: "no folder", file: "no folder", "relative": "absolute"} {
		if _, err := openCache(name); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("cache %s: error %v, want one with %q", name, err, want)
		}
	}
	if os.Geteuid() != 0 {
		return // only root can give a folder away
	}
	theirs := filepath.Join(folder, "theirs")
	if err := errors.Join(os.Mkdir(theirs, 0o700), os.Chown(theirs, 65534, 65534)); err != nil {
		t.Fatal(err)
	}
	if _, err := openCache(theirs); err == nil || !strings.Contains(err.Error(), "another user") {
		t.Errorf("a folder of another user: error %v", err)
	}
}

func TestOnlyTheFilesNamedExist(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	clip := put(t, filepath.Join(folder, "clip.mov"), "clip")
	put(t, filepath.Join(folder, "canary.mov"), "canary")
	in, err := openInputs([]string{clip})
	if err != nil {
		t.Fatal(err)
	}
	if err := fstest.TestFS(in, "clip.mov"); err != nil {
		t.Error(err)
	}
	for _, name := range []string{"canary.mov", "../" + filepath.Base(folder) + "/canary.mov", "/etc/passwd"} {
		if _, err := in.Open(name); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: error %v, want that it does not exist", name, err)
		}
	}
	link := filepath.Join(folder, "link.mov")
	if err := os.Symlink("canary.mov", link); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{link, folder, filepath.Join(folder, "none"), folder + "/.."} {
		if _, err := openInputs([]string{bad}); err == nil {
			t.Errorf("%s is taken, want a plain file only", bad)
		}
	}
	// A file that becomes a link later.
	if err := errors.Join(os.Remove(clip), os.Symlink("canary.mov", clip)); err != nil {
		t.Fatal(err)
	}
	if f, err := in.Open("clip.mov"); err == nil {
		f.Close()
		t.Error("a file that became a link is opened")
	}
}

func TestOutputFolderIsEmpty(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	put(t, filepath.Join(folder, "x"), "")
	if _, err := (order{kind: "encode", out: folder}).mounts(); err == nil || !strings.Contains(err.Error(), "empty folder") {
		t.Errorf("error %v, want one that asks for an empty folder", err)
	}
}

// Even told to, the program reads no other file: with scripts that point outside, and with names that do.
func TestCanaryIsNotRead(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	const secret = "canary-sings-7731"
	canary := put(t, filepath.Join(folder, "canary.txt"), strings.Repeat(secret, 100))
	script := put(t, filepath.Join(folder, "script.mov"), "ffconcat version 1.0\nfile '"+canary+"'\nfile '../in/canary.txt'\nfile 'canary.txt'\n")
	raw := []string{"-v", "error", "-nostdin", "-f", "s16le", "-ar", "48000", "-ac", "1"}
	copyOut := []string{"-c", "copy", "-f", "s16le", "pipe:1"}
	for name, args := range map[string][]string{
		"script":    {"-v", "error", "-nostdin", "-f", "concat", "-safe", "0", "-i", "/in/script.mov"},
		"neighbour": append(raw[:len(raw):len(raw)], "-i", "/in/canary.txt"),
		"absolute":  append(raw[:len(raw):len(raw)], "-i", canary),
		"upwards":   append(raw[:len(raw):len(raw)], "-i", "/in/../"+canary),
		"password":  append(raw[:len(raw):len(raw)], "-i", "/etc/passwd"),
	} {
		var out, said bytes.Buffer
		cmd := exec.CommandContext(t.Context(), decodertest.Program(t),
			append([]string{"decode", "--cache", decodertest.Cache(t), "--in", script, "--"}, append(args, copyOut...)...)...)
		cmd.Stdout, cmd.Stderr = &out, &said
		if err := cmd.Run(); err == nil || out.Len() > 0 || strings.Contains(out.String(), secret) {
			t.Errorf("%s: error %v, output of %d bytes, want a refusal", name, err, out.Len())
		}
	}
	// The same command does read the file that it is given.
	out, err := exec.CommandContext(t.Context(), decodertest.Program(t), append([]string{
		"decode", "--cache", decodertest.Cache(t), "--in", canary, "--",
	},
		append(append(raw[:len(raw):len(raw)], "-i", "/in/canary.txt"), copyOut...)...)...).Output()
	if err != nil || !strings.Contains(string(out), secret) {
		t.Errorf("the file given: %d bytes, error %v", len(out), err)
	}
	// And writes none.
	cmd := exec.CommandContext(t.Context(), decodertest.Program(t), append([]string{
		"decode", "--cache", decodertest.Cache(t), "--in", canary, "--", "-y",
	},
		append(append(raw[:len(raw):len(raw)], "-i", "/in/canary.txt"), "-c", "copy", "-f", "s16le", "/in/new.raw")...)...)
	if err := cmd.Run(); err == nil {
		t.Error("a file is written where only reading is allowed")
	}
}

func TestSaysWhatItIs(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{{"--version"}, {"--help"}} {
		var out bytes.Buffer
		if code, err := run(t.Context(), args, nil, &out, nil); code != 0 || err != nil || !strings.Contains(out.String(), "FFmpeg") {
			t.Errorf("%v: code %d, error %v, %q", args, code, err, out.String())
		}
	}
}

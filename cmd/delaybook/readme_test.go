package main

import (
	"bytes"
	"flag"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write what the README's commands print into the README")

const readme = "../../README.md"

// TestTheReadmeTellsTheTruth runs every console block of the README against the
// demo, in one shell from top to bottom, and compares what comes out.
func TestTheReadmeTellsTheTruth(t *testing.T) {
	t.Parallel()
	p := start(t, "demo", "--data", folder(t))
	old, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	var fresh strings.Builder
	before := "" // commands of the blocks above: exports last
	inside, ran := false, 0
	var block []string
	for line := range strings.Lines(string(old)) {
		switch {
		case !inside:
			fresh.WriteString(line)
			inside = line == "```console\n"
			block = nil
		case line == "```\n":
			command := commands(block)
			fresh.WriteString(strings.Join(block[:len(command)], ""))
			out := p.shell(t, before, strings.Join(command, ""))
			fresh.WriteString(out)
			fresh.WriteString(line)
			before += exports(command)
			inside = false
			ran++
		default:
			block = append(block, line)
		}
	}
	if ran < 5 {
		t.Errorf("the README has %d blocks that can be run, want the whole tour", ran)
	}
	if *update {
		if err := os.WriteFile(readme, []byte(fresh.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	// The demo's book is made when it starts: the minute of that is in what it prints.
	minute := regexp.MustCompile(`\d{4}-\d\d-\d\d \d\d:\d\d UTC`)
	want, got := minute.ReplaceAllString(string(old), "MINUTE"), minute.ReplaceAllString(fresh.String(), "MINUTE")
	if got != want {
		t.Errorf("the README prints something else than its commands do (go test ./cmd/delaybook -run Readme -update writes it anew):\n%s",
			firstDifference(want, got))
	}
}

// commands returns the lines of a block that are typed: those behind a prompt
// and those that continue one, without the prompt.
func commands(block []string) []string {
	var typed []string
	goesOn := false
	for _, line := range block {
		rest, prompt := strings.CutPrefix(line, "$ ")
		if !prompt && !goesOn {
			break
		}
		typed = append(typed, rest)
		goesOn = strings.HasSuffix(line, "\\\n")
	}
	return typed
}

func exports(typed []string) string {
	kept := ""
	for _, line := range typed {
		if strings.HasPrefix(line, "export ") {
			kept += line
		}
	}
	return kept
}

// shell runs commands of the README with this program in place of go run, and
// the demo where the README says it is.
func (p *process) shell(tb testing.TB, before, typed string) string {
	tb.Helper()
	script := "delaybook() { " + asProgram + "=1 '" + os.Args[0] + "' \"$@\"; }\n" + before + typed
	script = strings.ReplaceAll(script, "go run ./cmd/delaybook", "delaybook")
	script = strings.ReplaceAll(script, "127.0.0.1:8080", p.address)
	cmd := exec.CommandContext(tb.Context(), "bash", "-c", script)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		tb.Fatalf("%s: %v\n%s%s", typed, err, out, &errs)
	}
	return string(out)
}

func firstDifference(a, b string) string {
	x, y := strings.SplitAfter(a, "\n"), strings.SplitAfter(b, "\n")
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] {
			return "README: " + x[i] + "really: " + y[i]
		}
	}
	return "one is longer"
}

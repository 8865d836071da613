package plot_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"delaybook/domain/plot"
	"delaybook/domain/recording"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files")

// measured is four events of the card, seen 166.9 ms after they were heard, one
// of them left out.
func measured() (*recording.Result, *recording.Evidence) {
	const step, n = 0.01, 600
	light, sound := make([]byte, n), make([]byte, n)
	f := recording.Finding{FromS: 0, ToS: 6, OffsetMS: 166.9, EventSDMS: 0.4, Said: "sound early 166.9 ms (5 frames)"}
	for i, at := range []float64{1, 1.816, 3.004, 3.927} {
		for k := range 6 {
			sound[int(at/step)+k] = 255
		}
		for k := range 16 {
			light[int((at+0.1669)/step)+k] = 200
		}
		f.Events = append(f.Events, recording.Event{AtS: at, OffsetMS: 166.9 + float64(i), UMS: 2, Confidence: 1, Used: i != 2})
	}
	r := &recording.Result{Method: recording.ByClip, DurationS: 6, Segments: []recording.Finding{f}}
	r.Finding = &r.Segments[0]
	return r, &recording.Evidence{Light: &recording.Series{StepS: step, Values: light}, Sound: &recording.Series{StepS: step, Values: sound}}
}

func TestGolden(t *testing.T) {
	t.Parallel()
	r, e := measured()
	late := *r
	late.Segments = []recording.Finding{{ToS: 4, Said: "second track late 12.0 ms", Events: []recording.Event{{AtS: 2, OffsetMS: -12, Used: true}}}}
	late.Method = recording.ByTracks
	refused := &recording.Result{Method: recording.ByClip, Refused: &recording.Refusal{
		Code: recording.NoFlashes, Text: "No flash was seen.", Try: "Film the card so that it fills a good part of the picture.",
	}}
	for name, got := range map[string][]byte{
		"clip.svg":    plot.SVG(r, e, plot.Names{Title: "Hall <&> \"stage\"", Upper: "cam-1", Lower: "lectern"}),
		"tracks.svg":  plot.SVG(&late, &recording.Evidence{Second: e.Light, Sound: e.Sound}, plot.Names{}),
		"refused.svg": plot.SVG(refused, &recording.Evidence{Sound: e.Sound}, plot.Names{}),
	} {
		path := filepath.Join("testdata", name)
		if *update {
			if err := os.WriteFile(path, got, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(want), string(got)); diff != "" {
			t.Errorf("%s: want -, got +:\n%s", name, diff)
		}
	}
}

// elements reads a drawing as XML and returns its elements, with the text of each.
func elements(t *testing.T, svg []byte) (names []string, texts []string) {
	t.Helper()
	in := xml.NewDecoder(bytes.NewReader(svg))
	for {
		token, err := in.Token()
		if errors.Is(err, io.EOF) {
			return names, texts
		}
		if err != nil {
			t.Fatalf("not XML: %v in %s", err, svg)
		}
		switch x := token.(type) {
		case xml.StartElement:
			names = append(names, x.Name.Local)
		case xml.CharData:
			texts = append(texts, string(x))
		}
	}
}

func TestEveryOffsetIsSaidInWords(t *testing.T) {
	t.Parallel()
	r, e := measured()
	_, texts := elements(t, plot.SVG(r, e, plot.Names{}))
	all := strings.Join(texts, "\n")
	for _, want := range []string{"early 166.9 ms", "early 167.9 ms", "left out", "early 169.9 ms", "sound early 166.9 ms (5 frames)", "3 events"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in %s", want, all)
		}
	}
	r.Segments[0].Events[0].OffsetMS = -40
	_, texts = elements(t, plot.SVG(r, e, plot.Names{}))
	if all = strings.Join(texts, "\n"); !strings.Contains(all, "late 40.0 ms") || strings.Contains(all, "-40") {
		t.Errorf("a bare sign, or no late: %s", all)
	}
}

// TestItStandsAlone: an SVG that a browser shows as an image must not run or load
// anything, and what is drawn stays on the paper.
func TestItStandsAlone(t *testing.T) {
	t.Parallel()
	r, e := measured()
	svg := plot.SVG(r, e, plot.Names{Title: "</title><script>alert(1)</script>"})
	names, _ := elements(t, svg)
	for _, name := range names {
		if name == "script" || name == "image" || name == "use" || name == "foreignObject" {
			t.Errorf("it has an element %s", name)
		}
	}
	if bytes.Contains(svg, []byte("url(")) || bytes.Contains(svg, []byte("href")) || bytes.Contains(svg, []byte("NaN")) {
		t.Errorf("it loads something or has no number: %s", svg)
	}
}

func TestOddEvidenceIsDrawn(t *testing.T) {
	t.Parallel()
	r, e := measured()
	for name, odd := range map[string]*recording.Evidence{
		"none":        nil,
		"empty":       {},
		"no step":     {Light: &recording.Series{Values: []byte{1, 2}}, Sound: e.Sound},
		"later":       {FromS: 1e6, Light: e.Light, Sound: e.Sound},
		"a step of 0": {Light: &recording.Series{StepS: math.SmallestNonzeroFloat64, Values: []byte{1, 2}}},
		"long":        {Light: &recording.Series{StepS: 0.001, Values: make([]byte, 60_000)}, Sound: e.Sound},
	} {
		svg := plot.SVG(r, odd, plot.Names{})
		if elements(t, svg); bytes.Contains(svg, []byte("NaN")) || bytes.Contains(svg, []byte("Inf")) {
			t.Errorf("%s: %s", name, svg)
		}
	}
}

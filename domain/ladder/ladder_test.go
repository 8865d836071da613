package ladder_test

import (
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"delaybook/domain/ladder"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write what is drawn as the golden pictures")

// hall is a camera that fades over a frame store, against a microphone with a
// delay dialled in, and one that nobody measured.
func hall() *ladder.Ladder {
	return &ladder.Ladder{LeftOut: true, Rows: []ladder.Row{
		{Name: "cam-1", Lengths: []ladder.Length{
			{Name: "store-f", Kind: ladder.Stage, MS: 66, HalfMS: 6}, {Name: "cam-a and mixer-s", Kind: ladder.Together, MS: 104, HalfMS: 25},
		}},
		{Name: "lectern <1>", Sound: true, Lengths: []ladder.Length{
			{Name: "air", Kind: ladder.Air, MS: 3}, {Name: "lectern-delay", Kind: ladder.Dialled, MS: 160},
		}, Gap: &ladder.Gap{ToMS: 170, Text: "Sound early 0.2 frames (7.0 ms) against cam-1: inside"}},
		{Name: "cam-9", Unknown: true},
	}}
}

func TestTheGoldenPictures(t *testing.T) {
	t.Parallel()
	for name, l := range map[string]*ladder.Ladder{
		"hall": hall(),
		"live": {Rows: []ladder.Row{{Name: "live"}, {Name: "mic", Sound: true, Gap: &ladder.Gap{Text: "In sync"}}}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got, err := l.SVG("a", "When "+name+" arrives")
			if err != nil {
				t.Fatal(err)
			}
			got = strings.ReplaceAll(got, "><", ">\n<") + "\n"
			path := filepath.Join("testdata", name+".svg")
			if *update {
				if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Errorf("golden -, drawn + (go test -update after looking at it):\n%s", diff)
			}
		})
	}
}

// A shape is an element of a picture with its attributes.
type shape struct {
	name string
	at   map[string]string
}

// shapes reads a picture with the XML reader of the standard library.
func shapes(t *testing.T, l *ladder.Ladder) []shape {
	t.Helper()
	text, err := l.SVG("a", "a title")
	if err != nil {
		t.Fatal(err)
	}
	in := xml.NewDecoder(strings.NewReader(text))
	var all []shape
	for {
		token, err := in.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			t.Fatalf("not XML: %v\n%s", err, text)
		}
		if e, ok := token.(xml.StartElement); ok {
			s := shape{e.Name.Local, map[string]string{}}
			for _, a := range e.Attr {
				s.at[a.Name.Local] = a.Value
			}
			all = append(all, s)
		}
	}
}

func (s shape) number(t *testing.T, name string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s.at[name], 64)
	if err != nil {
		t.Fatalf("%s of %s: %v", name, s.name, err)
	}
	return x
}

// Lengths are true to ms: 160 ms of delay dialled in are drawn 160/100 times as
// long as 100 ms between two lines of the axis.
func TestLengthsAreTrueToMS(t *testing.T) {
	t.Parallel()
	var dialled, apart float64
	var lines []float64
	for _, s := range shapes(t, hall()) {
		switch {
		case strings.HasPrefix(s.at["class"], "ladder-dial"):
			dialled = s.number(t, "width")
		case s.at["class"] == "ladder-tick":
			lines = append(lines, s.number(t, "x"))
		}
	}
	if len(lines) != 3 { // 50, 100 and 150 of 195 ms
		t.Fatalf("lines at %v", lines)
	}
	apart = lines[2] - lines[0]
	const rounding = 0.2 // pixels: each number is rounded to a tenth
	if got, want := dialled, apart*160/100; math.Abs(got-want) > 2*rounding {
		t.Errorf("160 ms are %v pixels long where 100 ms are %v", got, apart)
	}
}

// A page's policy allows no style written into it.
func TestThePictureHasNoStyleOfItsOwn(t *testing.T) {
	t.Parallel()
	for _, s := range shapes(t, hall()) {
		if s.name == "style" || s.name == "script" || s.at["style"] != "" {
			t.Errorf("%s has style or script of its own: %v", s.name, s.at)
		}
	}
}

func TestWhatCanNotBeDrawnIsRefused(t *testing.T) {
	t.Parallel()
	for name, l := range map[string]ladder.Length{
		"negative":      {Name: "x", Kind: ladder.Stage, MS: -1},
		"not a number":  {Name: "x", Kind: ladder.Stage, MS: math.NaN()},
		"endless":       {Name: "x", Kind: ladder.Stage, MS: math.Inf(1)},
		"a narrow half": {Name: "x", Kind: ladder.Stage, MS: 1, HalfMS: -1},
	} {
		if _, err := (&ladder.Ladder{Rows: []ladder.Row{{Name: "row", Lengths: []ladder.Length{l}}}}).SVG("a", ""); err == nil {
			t.Errorf("%s: drawn", name)
		}
	}
	gap := &ladder.Ladder{Rows: []ladder.Row{{Name: "row", Gap: &ladder.Gap{ToMS: math.NaN()}}}}
	if _, err := gap.SVG("a", ""); err == nil {
		t.Error("a gap to nowhere: drawn")
	}
}

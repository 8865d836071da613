package bookfile_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"delaybook/domain/bookfile"
)

// TestWorkedBooks holds the answers against eight worked books, whose expected
// digits come from an implementation of the same formulas that shares no code
// with this one (a dense engine in another language).
func TestWorkedBooks(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("testdata/*.json")
	if err != nil || len(files) == 0 {
		t.Fatalf("no worked books: %v", err)
	}
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			t.Parallel()
			data, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			f, warning, err := bookfile.Read(data)
			if err != nil || warning != "" {
				t.Fatalf("read: %v, warning %q", err, warning)
			}
			var want struct {
				Expected map[string]any `json:"expected"`
			}
			if err := json.Unmarshal(data, &want); err != nil {
				t.Fatal(err)
			}
			for kind, solve := range map[string]func() (*bookfile.Answer, error){"fixed": f.Solve, "fitted": f.Fit} {
				expected, ok := want.Expected[kind]
				if !ok {
					continue
				}
				answer, err := solve()
				if err != nil {
					t.Fatal(err)
				}
				compare(t, kind, kind, plain(t, answer), expected)
			}
		})
	}
}

func plain(tb testing.TB, x any) any {
	tb.Helper()
	data, err := json.Marshal(x)
	if err != nil {
		tb.Fatal(err)
	}
	var out any
	if err := json.Unmarshal(data, &out); err != nil {
		tb.Fatal(err)
	}
	return out
}

// compare holds every member of want against got. The books print nine digits
// (5e-9 relative); a fit stops where its steps are below 1e-11, and the degrees
// of freedom, ratios of small derivatives, keep five digits of it.
func compare(t *testing.T, kind, path string, got, want any) {
	t.Helper()
	switch w := want.(type) {
	case map[string]any:
		g, ok := got.(map[string]any)
		if !ok {
			t.Errorf("%s: got %v, want %v", path, got, want)
			return
		}
		for name, value := range w {
			compare(t, kind, path+"."+name, g[name], value)
		}
	case []any:
		g, ok := got.([]any)
		if !ok || len(g) != len(w) {
			t.Errorf("%s: got %v, want %v", path, got, want)
			return
		}
		for i := range w {
			compare(t, kind, fmt.Sprintf("%s[%d]", path, i), g[i], w[i])
		}
	case float64:
		g, ok := got.(float64)
		tolerance := tolerance(kind, path) * math.Abs(w)
		if filepath.Ext(path) == ".chance_in_limit" {
			tolerance = 1e-9
			if kind == "fitted" {
				tolerance = 1e-6
			}
		}
		if !ok || math.Abs(g-w) > tolerance {
			t.Errorf("%s: got %v, want %v", path, got, want)
		}
	case nil:
		if list, empty := got.([]any); got != nil && !(empty && len(list) == 0) {
			t.Errorf("%s: got %v, want nothing", path, got)
		}
	default:
		if got != want {
			t.Errorf("%s: got %v, want %v", path, got, want)
		}
	}
}

func tolerance(kind, path string) float64 {
	ext := filepath.Ext(path)
	switch {
	case kind == "fixed":
		return 5e-9
	case ext == ".df" || ext == ".next_df":
		return 1e-5
	}
	return 1e-6
}

func TestAMemberThatNoBookHasIsNamed(t *testing.T) {
	t.Parallel()
	for _, text := range []string{`{"book":"b","card":[]}`, `{"devices":[{"slug":"cam-a","card":1}]}`} {
		f, warning, err := bookfile.Read([]byte(text))
		if want := `there is no member "card" where it stands: it is passed over`; f == nil || err != nil || warning != want {
			t.Errorf("%s: warning %q, %v; want %q", text, warning, err, want)
		}
	}
}

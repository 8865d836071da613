package planfile_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"delaybook/domain/plan"
	"delaybook/domain/planfile"
)

// The worked cases in testdata were made apart from this planner: their settings were found by
// trying every setting ("enumeration" says how many), their chances by quadrature of the law. Every
// member that a case expects must be there with nine decimals; "enumeration" itself is a note.
func TestWorkedCases(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("testdata/*.json")
	if err != nil || len(files) != 8 {
		t.Fatalf("found %d worked cases, %v; want 8", len(files), err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			t.Parallel()
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			out, err := planfile.Run(data, plan.Budget{})
			if err != nil {
				t.Fatal(err)
			}
			var want struct{ Expected map[string]any }
			var got map[string]any
			if err := json.Unmarshal(data, &want); err != nil {
				t.Fatal(err)
			}
			if err := json.Unmarshal(out, &got); err != nil {
				t.Fatal(err)
			}
			delete(want.Expected, "enumeration")
			for _, more := range []string{"why", "advice", "proven"} {
				delete(got, more)
			}
			near := cmp.Comparer(func(x, y float64) bool { return math.Abs(x-y) <= 1.1e-9 })
			if diff := cmp.Diff(want.Expected, got, near); diff != "" {
				t.Errorf("-want +got\n%s", diff)
			}
		})
	}
}

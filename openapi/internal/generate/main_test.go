package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestCheckInstants(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, field, want string }{
		{"no tag is no JSON", "At time.Time", ""},
		{"left out of JSON", "At time.Time `json:\"-\"`", ""},
		{"a format", "At time.Time `json:\"at\" format:\"date-time\"`", ""},
		{"an instant as example", "At *time.Time `json:\"at\" example:\"2026-11-20T18:04:00+01:00\"`", ""},
		{"a string is not meant", "At string `json:\"at\"`", ""},
		{"nothing said", "At time.Time `json:\"at\"`", "rig.go:4:17: a time.Time in JSON"},
		{"nothing said of a pointer", "At *time.Time `json:\"at\"`", "rig.go:4:17"},
		{"nothing said of a list", "At []time.Time `json:\"at\"`", "rig.go:4:17"},
		{"an example that is a date", "At time.Time `json:\"at\" example:\"2026-11-20\"`", "rig.go:4:17"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			root := t.TempDir()
			source := "package api\n\nimport \"time\"\ntype R struct { " + test.field + " }\nvar _ time.Time\n"
			writeFile(t, filepath.Join(root, "api", "rig.go"), source)
			writeFile(t, filepath.Join(root, "api", "rig_test.go"), "not Go, and not read\n")
			err := checkInstants(root, "api")
			switch {
			case test.want == "" && err != nil:
				t.Errorf("error %v, want none", err)
			case test.want != "" && (err == nil || !strings.Contains(err.Error(), test.want)):
				t.Errorf("error %v, want one that says %q", err, test.want)
			}
		})
	}
}

func TestCompareNamesTheLine(t *testing.T) {
	t.Parallel()
	if err := compare([]byte("a\nb\n"), []byte("a\nb\n")); err != nil {
		t.Errorf("equal documents: %v", err)
	}
	for _, fresh := range []string{"a\nc\n", "a\nb c\n", "a\n"} {
		err := compare([]byte("a\nb\n"), []byte(fresh))
		if err == nil || !strings.Contains(err.Error(), "from line 2: run make generate") {
			t.Errorf("compare with %q: %v, want line 2", fresh, err)
		}
	}
}

func writeFile(tb testing.TB, path, content string) {
	tb.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		tb.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		tb.Fatal(err)
	}
}

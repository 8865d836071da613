package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestAnImportIsTheSameBook takes the demo's book to another database and back.
func TestAnImportIsTheSameBook(t *testing.T) {
	t.Parallel()
	demo := start(t, "demo", "--data", folder(t))
	admin := adminOf(t, demo)
	exported := demo.fetch(t, admin, "/v1/export")
	file := filepath.Join(t.TempDir(), "book.ndjson")
	if err := os.WriteFile(file, exported, 0o600); err != nil {
		t.Fatal(err)
	}
	data := folder(t)
	if said := say(t, "import", file, "--data", data); said != "" {
		t.Errorf("import said %q on standard output", said)
	}
	again := say(t, "export", "--data", data)
	// The first line says when the export was written.
	_, want, _ := bytes.Cut(bytes.TrimSpace(exported), []byte("\n"))
	if _, got, _ := strings.Cut(again, "\n"); got != string(want) {
		t.Errorf("exported again there are %d bytes, not the same %d", len(got), len(want))
	}

	second, complaints := command(t.Context(), "import", file, "--data", data)
	if err := second.Run(); err == nil || !strings.Contains(complaints.String(), "The book is not empty") {
		t.Errorf("a second import: %v %s", err, complaints)
	}

	key := say(t, "key", "create", "--role", "admin", "--data", data)
	served := start(t, "serve", "--data", data)
	sameAnswers(t, demo, admin, served, key, demoVersion(t, exported))
	importsBeside(t, demo, admin, file, demoVersion(t, exported))
}

// importsBeside imports while a service runs on the same data folder, whose keys
// go on and which then answers from the new book.
func importsBeside(t *testing.T, demo *process, admin, file, version string) {
	t.Helper()
	data := folder(t)
	served := start(t, "serve", "--data", data)
	key := say(t, "key", "create", "--role", "admin", "--data", data)
	if got := served.fetch(t, key, "/v1/devices"); bytes.Contains(got, []byte(`"slug"`)) {
		t.Errorf("before the import there are devices: %s", got)
	}
	beside, said := command(t.Context(), "import", file, "--data", data)
	if err := beside.Run(); err != nil || !strings.Contains(said.String(), "the keys of before go on") {
		t.Errorf("an import beside a service: %v %s", err, said)
	}
	for end := time.Now().Add(30 * time.Second); !bytes.Contains(served.fetch(t, key, "/v1/devices"), []byte(`"slug"`)); {
		if time.Now().After(end) {
			t.Fatal("the service does not hear of the import")
		}
		time.Sleep(20 * time.Millisecond)
	}
	sameAnswers(t, demo, admin, served, key, version)
}

func sameAnswers(t *testing.T, demo *process, admin string, served *process, key, version string) {
	t.Helper()
	version = "?at=" + version
	for _, path := range []string{"/v1/rigs/red-van.harbour-hall/offsets", "/v1/rigs/blue-van.quay-studio/delays", "/v1/latencies", "/v1/devices"} {
		if got, want := served.fetch(t, key, path+version), demo.fetch(t, admin, path+version); !bytes.Equal(got, want) {
			t.Errorf("%s answers\n%s\nafter the import, and before\n%s", path, got, want)
		}
	}
}

// demoVersion returns the book version of an export.
func demoVersion(tb testing.TB, exported []byte) string {
	tb.Helper()
	_, rest, ok := strings.Cut(string(exported), `"book_version":`)
	version, _, end := strings.Cut(rest, ",")
	if !ok || !end {
		tb.Fatalf("no version in %.200s", exported)
	}
	return version
}

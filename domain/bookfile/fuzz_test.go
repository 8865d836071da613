package bookfile_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"delaybook/domain/bookfile"
)

// FuzzBook reads and solves whatever comes: an error or an answer that is JSON.
func FuzzBook(f *testing.F) {
	files, err := filepath.Glob("testdata/*.json")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		file, _, err := bookfile.Read(data)
		if err != nil {
			return
		}
		file.Ask = nil // everything
		answer, err := file.Solve()
		if err != nil {
			return
		}
		if _, err := json.Marshal(answer); err != nil {
			t.Error(err)
		}
	})
}

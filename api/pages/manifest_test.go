package pages_test

import (
	"encoding/json"
	"image/png"
	"net/http"
	"strconv"
	"strings"
	"testing"
)

// What the home screen of a phone needs is there and is what it is said to be.
func TestTheManifestAndItsIcons(t *testing.T) {
	t.Parallel()
	c := newCompany(t)
	got := c.send(t, http.MethodGet, "/manifest.webmanifest", "")
	var manifest struct {
		Name     string
		StartURL string `json:"start_url"`
		Display  string
		Icons    []struct{ Src, Sizes, Type, Purpose string }
	}
	if err := json.NewDecoder(got.Body).Decode(&manifest); err != nil {
		t.Fatal(err)
	}
	if got.Header.Get("Content-Type") != "application/manifest+json" || manifest.StartURL != "/rigs" || manifest.Display != "standalone" {
		t.Errorf("%v: %+v", got.Header, manifest)
	}
	largest := 0
	for _, icon := range manifest.Icons {
		image := c.send(t, http.MethodGet, icon.Src, "")
		if image.StatusCode != http.StatusOK || image.Header.Get("Content-Type") != icon.Type {
			t.Errorf("%s: %s %s", icon.Src, image.Status, image.Header.Get("Content-Type"))
		}
		if icon.Type != "image/png" {
			continue
		}
		drawn, err := png.DecodeConfig(image.Body)
		if err != nil {
			t.Fatal(err)
		}
		width, _, _ := strings.Cut(icon.Sizes, "x")
		if strconv.Itoa(drawn.Width) != width || drawn.Height != drawn.Width {
			t.Errorf("%s is %d by %d, said to be %s", icon.Src, drawn.Width, drawn.Height, icon.Sizes)
		}
		largest = max(largest, drawn.Width)
	}
	if largest < 512 {
		t.Errorf("the largest icon is %d wide", largest)
	}
}

package main

import (
	"encoding/json"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"testing"
)

// adminOf reads the office's key from what the demo printed.
func adminOf(tb testing.TB, p *process) string {
	tb.Helper()
	text := ""
	for {
		line, err := p.rest.ReadString('\n')
		if err != nil {
			tb.Fatalf("the demo said no key of the office: %v\n%s", err, text)
		}
		text += line
		if found := regexp.MustCompile(`The office's.*: (\S+)`).FindStringSubmatch(line); found != nil {
			return found[1]
		}
	}
}

// fetch returns the body of a path.
func (p *process) fetch(tb testing.TB, key, path string) []byte {
	tb.Helper()
	r, err := http.NewRequestWithContext(tb.Context(), http.MethodGet, "http://"+p.address+path, nil)
	if err != nil {
		tb.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+key)
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		tb.Fatal(err)
	}
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	if err != nil || response.StatusCode != http.StatusOK {
		tb.Fatalf("GET %s: %d %s %v", path, response.StatusCode, body, err)
	}
	return body
}

// TestAnExportSolvesToTheSameDigits compares what the service answers with what
// the command makes of the service's export, without a database.
func TestAnExportSolvesToTheSameDigits(t *testing.T) {
	t.Parallel()
	p := start(t, "demo", "--data", folder(t))
	admin := adminOf(t, p)
	p.must(t, admin, "POST", "/v1/rigs/red-van.harbour-hall/measurements", map[string]any{ // with what only a recording tells
		"picture": "cam-1", "sound": "lectern", "method": "clip", "readings": []map[string]any{{"offset_ms": 12, "u_ms": 1}},
		"event_sd_ms": 40, "drift_ppm": 3,
	})
	file := filepath.Join(t.TempDir(), "export.ndjson")
	if err := os.WriteFile(file, p.fetch(t, admin, "/v1/export"), 0o600); err != nil {
		t.Fatal(err)
	}
	var offline struct {
		Offsets []struct {
			Rig, Picture, Sound, Destination string
			OffsetMS                         *float64 `json:"offset_ms"`
			SEMS                             *float64 `json:"se_ms"`
			Next95                           *[2]float64
		}
		Plans map[string]struct{ State string }
	}
	if err := json.Unmarshal([]byte(say(t, "solve", file)), &offline); err != nil {
		t.Fatal(err)
	}
	compared := 0
	for _, name := range []string{"red-van.harbour-hall", "blue-van.quay-studio", "red-van.van-kit", "blue-van.granary"} {
		var online struct {
			Offsets []struct {
				Picture, Sound, Destination string
				OffsetMS                    *float64 `json:"offset_ms"`
				SEMS                        *float64 `json:"se_ms"`
				Next95                      *[2]float64
			}
		}
		if err := json.Unmarshal(p.fetch(t, admin, "/v1/rigs/"+name+"/offsets"), &online); err != nil {
			t.Fatal(err)
		}
		for _, o := range online.Offsets {
			for _, f := range offline.Offsets {
				if f.Rig != name || f.Picture != o.Picture || f.Sound != o.Sound || f.Destination != o.Destination {
					continue
				}
				compared++
				// The service rounds milliseconds to a nanosecond.
				const rounding = 0.5000001e-6
				if math.Abs(*f.OffsetMS-*o.OffsetMS) > rounding || math.Abs(*f.SEMS-*o.SEMS) > rounding ||
					math.Abs(f.Next95[0]-o.Next95[0]) > rounding {
					t.Errorf("%s %s/%s at %s: offline %v +- %v, online %v +- %v", name, o.Picture, o.Sound, o.Destination,
						*f.OffsetMS, *f.SEMS, *o.OffsetMS, *o.SEMS)
				}
			}
		}
		var plan struct{ State string }
		if err := json.Unmarshal(p.fetch(t, admin, "/v1/rigs/"+name+"/delays"), &plan); err != nil {
			t.Fatal(err)
		}
		if plan.State != offline.Plans[name].State {
			t.Errorf("%s: the plan is %q offline and %q online", name, offline.Plans[name].State, plan.State)
		}
	}
	if compared < 15 {
		t.Errorf("compared %d offsets, want all of the demo", compared)
	}
}

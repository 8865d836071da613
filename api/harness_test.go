package api_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"delaybook/api"
	"delaybook/db"
	"delaybook/db/clipfiles"
	"delaybook/db/dbtest"
	"delaybook/domain/service"
	"delaybook/migrations"
	"delaybook/openapi"
	"delaybook/openapi/contract"

	"github.com/google/uuid"
)

func TestMain(m *testing.M) { dbtest.Main(m, migrations.Up) }

// noon is when the clock of every test stands at first.
var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

type m = map[string]any

// A site is a service on a database of its own, reached over HTTP. Every
// exchange is held against the API document.
type site struct {
	tb    testing.TB
	url   string
	bare  string // of the same service, not held against the document: for what no document allows
	store *db.Store
	use   *service.Service
	mu    sync.Mutex
	clock time.Time
	admin string
	keys  map[string]string // "ROLE@CREW" to key
	clips *service.Clips
	dir   string              // of recordings
	kept  service.ClipOptions // what is not zero is used in place of what serve would
	shelf api.CardShelf       // nil: no file of the card can be made
	most  int64               // bytes of an import; 0: what serve takes
}

func newSite(tb testing.TB) *site {
	tb.Helper()
	store, err := db.Open(tb.Context(), dbtest.New(tb), db.Options{MaxConns: 8})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(store.Close)
	s := &site{tb: tb, dir: tb.TempDir(), store: store, clock: noon, keys: map[string]string{}}
	s.serve()
	key, err := s.use.AddKey(tb.Context(), service.Request{Caller: service.Operator()}, service.NewKey{Role: "admin"})
	if err != nil {
		tb.Fatal(err)
	}
	s.admin = key.Text
	return s
}

// serve opens a service on what the database holds, as after a restart, and
// sends what follows to it.
func (s *site) serve() {
	s.tb.Helper()
	use, err := service.Open(s.tb.Context(), service.Options{
		Store: s.store, Now: s.now, NewID: func() uuid.UUID { return uuid.Must(uuid.NewV7()) },
		Secret: func() [32]byte { return sha256.Sum256([]byte(uuid.NewString())) }, Log: slog.New(slog.DiscardHandler),
	})
	if err != nil {
		s.tb.Fatal(err)
	}
	files, err := clipfiles.Open(s.dir)
	if err != nil {
		s.tb.Fatal(err)
	}
	s.kept.Store, s.kept.Files, s.kept.Beat = s.store, files, 20*time.Millisecond
	s.clips = service.NewClips(use, s.kept)
	handler, err := api.New(use, api.Options{
		Log: slog.New(slog.DiscardHandler), PublicURL: "https://book.example", Now: s.now, Clips: s.clips, Uploads: files.Uploads(), Card: s.shelf, MaxImport: s.most,
	})
	if err != nil {
		s.tb.Fatal(err)
	}
	server := httptest.NewServer(contract.Handler(s.tb, openapi.Document(), handler))
	s.tb.Cleanup(server.Close)
	bare := httptest.NewServer(handler)
	s.tb.Cleanup(bare.Close)
	s.use, s.url, s.bare = use, server.URL, bare.URL
}

// unwatched lets requests through that the document calls wrong and the service
// takes all the same, because it answers each part for itself.
func (s *site) unwatched() { s.url = s.bare }

func (s *site) now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.clock
}

func (s *site) wait(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.clock = s.clock.Add(d)
}

// key returns a key with a role in a crew; an empty crew is none.
func (s *site) key(role, crew string) string {
	s.tb.Helper()
	name := role + "@" + crew
	if s.keys[name] == "" {
		made := s.post(s.admin, "/v1/keys", m{"role": role, "crew": crew, "label": name}).want(http.StatusCreated)
		s.keys[name] = made.json()["key"].(string)
	}
	return s.keys[name]
}

// An answer is what came back.
type answer struct {
	tb     testing.TB
	what   string
	status int
	header http.Header
	body   []byte
}

// send makes one request; headers are name, value, name, value.
func (s *site) send(key, method, path string, body []byte, headers ...string) answer {
	s.tb.Helper()
	return s.sendTo(s.url, key, method, path, body, headers...)
}

// sendBare is send for what no document allows.
func (s *site) sendBare(key, method, path string, body []byte, headers ...string) answer {
	s.tb.Helper()
	return s.sendTo(s.bare, key, method, path, body, headers...)
}

func (s *site) sendTo(base, key, method, path string, body []byte, headers ...string) answer {
	s.tb.Helper()
	r, err := http.NewRequestWithContext(s.tb.Context(), method, base+path, bytes.NewReader(body))
	if err != nil {
		s.tb.Fatal(err)
	}
	if key != "" {
		r.Header.Set("Authorization", "Bearer "+key)
	}
	if len(body) > 0 {
		r.Header.Set("Content-Type", "application/json")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		s.tb.Fatal(err)
	}
	defer response.Body.Close()
	out, err := io.ReadAll(response.Body)
	if err != nil {
		s.tb.Fatal(err)
	}
	return answer{s.tb, method + " " + path, response.StatusCode, response.Header, out}
}

func (s *site) get(key, path string, headers ...string) answer {
	s.tb.Helper()
	return s.send(key, http.MethodGet, path, nil, headers...)
}

func (s *site) post(key, path string, body any, headers ...string) answer {
	s.tb.Helper()
	return s.send(key, http.MethodPost, path, encode(s.tb, body), headers...)
}

func (s *site) put(key, path string, body any, headers ...string) answer {
	s.tb.Helper()
	return s.send(key, http.MethodPut, path, encode(s.tb, body), headers...)
}

func encode(tb testing.TB, body any) []byte {
	tb.Helper()
	if text, ok := body.(string); ok {
		return []byte(text)
	}
	out, err := json.Marshal(body)
	if err != nil {
		tb.Fatal(err)
	}
	return out
}

// want ends the test unless the answer has the status.
func (a answer) want(status int) answer {
	a.tb.Helper()
	if a.status != status {
		a.tb.Fatalf("%s: got %d %s, want %d", a.what, a.status, a.body, status)
	}
	return a
}

func (a answer) json() m {
	a.tb.Helper()
	var out m
	if err := json.Unmarshal(a.body, &out); err != nil {
		a.tb.Fatalf("%s: %v in %s", a.what, err, a.body)
	}
	return out
}

// at follows a path such as "items.0.slug" into the JSON of the answer.
func (a answer) at(path string) any {
	a.tb.Helper()
	var here any = a.json()
	for part := range strings.SplitSeq(path, ".") {
		switch x := here.(type) {
		case m:
			here = x[part]
		case []any:
			var i int
			if _, err := fmt.Sscan(part, &i); err != nil || i >= len(x) {
				a.tb.Fatalf("%s: no %s in %s", a.what, path, a.body)
			}
			here = x[i]
		default:
			a.tb.Fatalf("%s: no %s in %s", a.what, path, a.body)
		}
	}
	return here
}

// refuses checks that the answer is a problem of the status which says, at
// pointer, to send something that contains send.
func (a answer) refuses(status int, pointer, send string) {
	a.tb.Helper()
	a.want(status)
	if got := a.header.Get("Content-Type"); got != "application/problem+json" {
		a.tb.Errorf("%s: content type %q, want a problem", a.what, got)
	}
	fields, _ := a.json()["fields"].([]any)
	for _, f := range fields {
		if f := f.(m); f["pointer"] == pointer && strings.Contains(f["send"].(string), send) {
			return
		}
	}
	a.tb.Errorf("%s: got %s, want a fault at %q that says to send %q", a.what, a.body, pointer, send)
}

// addHall adds the red van and a rig of it: a camera and a microphone over a
// switcher that can delay the sound by up to 8 frames.
func (s *site) addHall() {
	s.tb.Helper()
	s.post(s.admin, "/v1/crews", m{"slug": "red-van", "name": "Red van"}).want(http.StatusCreated)
	s.post(s.admin, "/v1/crews", m{"slug": "blue-van", "name": "Blue van"}).want(http.StatusCreated)
	for _, d := range []m{
		{"slug": "cam-a", "name": "Camera", "kind": "camera", "modes": []m{{"slug": "m", "format": "1080p29.97"}}, "units": []m{{"tag": "C-014"}}},
		{
			"slug": "mixer-s", "name": "Switcher", "kind": "video switcher", "modes": []m{{"slug": "m", "format": "1080p29.97"}},
			"controls": []m{
				{"slug": "mic-1-delay", "signal": "sound", "unit": "frame", "step": 1, "min": 0, "max": 8, "where": "audio page, input 5"},
				{"slug": "mic-2-delay", "signal": "sound", "unit": "frame", "step": 1, "min": 0, "max": 8, "where": "audio page, input 6"},
			},
		},
		{"slug": "radio-mic-w", "name": "Microphone", "kind": "microphone", "modes": []m{{"slug": "default"}}},
	} {
		s.post(s.admin, "/v1/devices", d).want(http.StatusCreated)
	}
	s.post(s.key("editor", "red-van"), "/v1/rigs", hall()).want(http.StatusCreated)
}

func hall() m {
	return m{
		"slug": "hall", "name": "Hall", "frame_rate": "29.97",
		"chains": []m{
			{"slug": "cam-1", "signal": "picture", "stages": []m{{"device": "cam-a", "mode": "m", "unit": "C-014"}, {"device": "mixer-s", "mode": "m"}}},
			{"slug": "lectern", "signal": "sound", "air_m": 0.3, "stages": []m{
				{"device": "radio-mic-w", "mode": "default"},
				{"device": "mixer-s", "mode": "m", "controls": []m{{"control": "mic-1-delay", "name": "lectern-delay"}}},
			}},
		},
	}
}

// clap is a measurement of the hall with nothing dialled in.
func clap(frames any, heard string) m {
	return m{
		"picture": "cam-1", "sound": "lectern", "method": "clap", "readings": []m{{"frames": frames, "heard": heard}},
		"settings": []m{{"control": "lectern-delay", "value": 0}},
	}
}

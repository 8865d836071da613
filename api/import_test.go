package api_test

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"delaybook/domain"
)

// hallExport is a site with a measured hall, and its export.
func hallExport(t *testing.T) (from *site, exported []byte) {
	t.Helper()
	from = newSite(t)
	from.addHall()
	tech := from.key("tech", "red-van")
	for _, frames := range []int{5, 6, 5} {
		from.post(tech, "/v1/rigs/hall/measurements", clap(frames, "early")).want(http.StatusCreated)
	}
	struck := from.post(tech, "/v1/rigs/hall/measurements", clap(9, "late")).want(http.StatusCreated).at("measurement.id").(string)
	from.post(tech, "/v1/measurements/"+struck+"/strike", m{"reason": "wrong rig"}).want(http.StatusOK)
	return from, from.get(from.admin, "/v1/export").want(http.StatusOK).body
}

// beside returns another service on the same database that follows it, as
// another process would.
func (s *site) beside(t *testing.T, follow bool) *site {
	t.Helper()
	other := &site{tb: t, store: s.store, clock: noon, keys: map[string]string{}, dir: t.TempDir(), admin: s.admin}
	other.serve()
	if follow {
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan struct{})
		go func() { defer close(ended); other.use.Follow(ctx) }()
		t.Cleanup(func() { cancel(); <-ended })
	}
	return other
}

func (s *site) takeIn(exported []byte, headers ...string) answer {
	s.tb.Helper()
	return s.send(s.admin, http.MethodPost, "/v1/import", exported, append([]string{"Content-Type", "application/x-ndjson"}, headers...)...)
}

// TestAnImportTakesThePlaceOfABookOfKeys imports into books that hold fewer and
// more versions than the export, and as many as the book afterwards, beside
// services that have the old book in memory: each must end with the new book
// and nothing of the old.
func TestAnImportTakesThePlaceOfABookOfKeys(t *testing.T) {
	t.Parallel()
	from, exported := hallExport(t)
	last := int(from.use.Version())
	for name, keys := range map[string]int{"fewer versions": 2, "more versions": last + 5, "as many versions": last - 1} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			to := newSite(t)
			reader := to.key("reader", "")
			for range keys - 1 {
				to.post(to.admin, "/v1/keys", m{"role": "tech"}).want(http.StatusCreated)
			}
			ended := to.post(to.admin, "/v1/keys", m{"role": "reader"}, "Idempotency-Key", "once").want(http.StatusCreated)
			to.send(to.admin, http.MethodDelete, "/v1/keys/"+ended.at("prefix").(string), nil).want(http.StatusNoContent)
			following, late := to.beside(t, true), to.beside(t, false)
			tag := following.get(reader, "/v1/devices").want(http.StatusOK).header.Get("ETag")
			before := to.get(to.admin, "/v1/keys").want(http.StatusOK).body

			to.wait(time.Hour)
			made := to.takeIn(exported).want(http.StatusOK)
			want := fmt.Sprintf(`{"book_version":%d,"imported_version":%d,"kept_keys":%d}`, last+1, last, keys+2)
			if got := string(made.body); got != want {
				t.Fatalf("the import answers %s, want %s", got, want)
			}

			// A service that did not hear of it finds out when it writes.
			late.post(to.admin, "/v1/crews", m{"slug": "late-van", "name": "Late van"}).want(http.StatusCreated)
			for end := time.Now().Add(20 * time.Second); following.use.Point() != late.use.Point(); {
				if time.Now().After(end) {
					t.Fatalf("the service beside stays at %+v, want %+v", following.use.Point(), late.use.Point())
				}
				time.Sleep(5 * time.Millisecond)
			}
			if p := (domain.Point{Epoch: 1, Version: domain.Version(last + 2)}); following.use.Point() != p {
				t.Errorf("the book is at %+v, want %+v", following.use.Point(), p)
			}
			for _, path := range []string{"/v1/rigs/red-van.hall/offsets", "/v1/rigs/red-van.hall/delays", "/v1/rigs/red-van.hall/measurements", "/v1/latencies", "/v1/devices"} {
				path += fmt.Sprintf("?at=%d", last)
				want := from.get(from.admin, path).want(http.StatusOK)
				for _, s := range []*site{to, following, late} {
					if got := s.get(to.admin, path).want(http.StatusOK); !bytes.Equal(got.body, want.body) {
						t.Errorf("%s answers\n%s\nwhere it came from\n%s", path, got.body, want.body)
					}
				}
			}
			if got := following.get(reader, "/v1/devices", "If-None-Match", tag); got.status != http.StatusOK {
				t.Errorf("the tag of the book before still holds: %d", got.status)
			}
			if keysOf(t, before) != keys+2 || !keepsKeys(t, to.get(to.admin, "/v1/keys").body, before) {
				t.Error("the keys are not those of before with those of the export")
			}
			following.get(from.admin, "/v1/crews").want(http.StatusUnauthorized)
			following.get(ended.at("key").(string), "/v1/devices").want(http.StatusUnauthorized)
			to.post(to.admin, "/v1/keys", m{"role": "reader"}, "Idempotency-Key", "once").want(http.StatusConflict)
			sameExport(t, from, to, exported, last, keys+2)
		})
	}
}

var prefixes = regexp.MustCompile(`"prefix":"[^"]+"`)

func keysOf(t *testing.T, list []byte) int {
	t.Helper()
	return len(prefixes.FindAll(list, -1))
}

func keepsKeys(t *testing.T, list, before []byte) bool {
	t.Helper()
	for _, prefix := range prefixes.FindAll(before, -1) {
		if !bytes.Contains(list, prefix) {
			return false
		}
	}
	return true
}

// sameExport compares what is exported again: as of the imported version all but
// the time; as of the next one also the keys that were kept.
func sameExport(t *testing.T, from, to *site, exported []byte, last, kept int) {
	t.Helper()
	const hour = "2026-11-25T13:00:00Z"
	was := strings.Replace(string(exported), "2026-11-25T12:00:00Z", hour, 1)
	if got := string(to.get(to.admin, fmt.Sprintf("/v1/export?at=%d", last)).want(http.StatusOK).body); got != was {
		t.Errorf("as of the imported version it is exported as\n%s\nwant\n%s", got, was)
	}
	added, old := 0, strings.Split(was, "\n")
	for i, line := range strings.Split(string(to.get(to.admin, fmt.Sprintf("/v1/export?at=%d", last+1)).want(http.StatusOK).body), "\n") {
		switch {
		case i == 0:
			want := fmt.Sprintf(`{"delaybook_export":{"format":1,"book_version":%d,"at":%q,"facts":%d}}`, last+1, hour, len(old)-2+1+kept)
			if line != want {
				t.Errorf("line 1 is %s, want %s", line, want)
			}
		case line == old[i-added]:
		case strings.HasPrefix(line, `{"change":{`) || strings.HasPrefix(line, `{"key":{`):
			if !strings.Contains(line, fmt.Sprintf(`"version":%d`, last+1)) {
				t.Errorf("line %d is new: %s", i+1, line)
			}
			added++
		default:
			t.Fatalf("line %d is %s, was %s", i+1, line, old[i-added])
		}
	}
	if added != 1+kept {
		t.Errorf("%d lines were added, want one change and %d keys", added, kept)
	}
}

func TestAnImportIsRefused(t *testing.T) {
	t.Parallel()
	from, exported := hallExport(t)
	to := newSite(t)
	editor := to.key("editor", "")
	lines := strings.SplitAfter(string(exported), "\n")
	find := func(kind string) int {
		for i, line := range lines {
			if strings.HasPrefix(line, `{"`+kind+`":`) {
				return i
			}
		}
		t.Fatalf("no %s in the export", kind)
		return 0
	}
	without := func(kind string) string {
		i := find(kind)
		return strings.Join(lines[:i], "") + strings.Join(lines[i+1:], "")
	}
	header := `{"delaybook_export":{"format":1,"book_version":1,"at":"2026-11-25T12:00:00Z"}}` + "\n"
	change := `{"change":{"version":1,"at":"2026-11-25T12:00:00Z"}}` + "\n"
	crew := `{"crew":{"id":"0197a000-0000-7000-8000-00000000000%d","slug":"red","name":"Red","version":1}}` + "\n"
	for name, c := range map[string]struct{ body, says string }{
		"nothing":           {"", "line 1 is not the header"},
		"no header":         {strings.Join(lines[1:], ""), "line 1 is not the header"},
		"another form":      {`{"delaybook_export":{"format":9}}`, "form 9"},
		"no JSON":           {header + "\n" + change + "{\n", "line 4"},
		"unknown member":    {header + `{"change":{"version":1,"speed":2}}`, `line 2: unknown field "speed"`},
		"wrong kind":        {header + `{"change":{"version":"one"}}`, "line 2: the member change.version can not be a string"},
		"two facts":         {header + change[:len(change)-1] + change, "line 2: there is more than one value"},
		"cut off":           {strings.Join(lines[:len(lines)-2], ""), "facts follow"},
		"a version missing": {header + strings.Replace(change, ":1,", ":2,", 1), "line 2"},
		"no crew":           {without("crew"), fmt.Sprintf("line %d: it refers to the crew", find("rig"))},
		"no power-up":       {without("power_up"), fmt.Sprintf("line %d: it refers to the power-up", find("measurement"))},
		"no device":         {without("device"), "it refers to the device"},
		"no measurement":    {without("measurement"), "facts follow"},
		"one crew twice":    {header + change + fmt.Sprintf(crew, 1) + fmt.Sprintf(crew, 2), "One of its crews"},
	} {
		got := to.takeIn([]byte(c.body))
		if got.status != http.StatusBadRequest || !strings.Contains(fmt.Sprint(got.json()["detail"]), c.says) {
			t.Errorf("%s: got %d %s, want 400 with %q", name, got.status, got.body, c.says)
		}
	}
	to.send(editor, http.MethodPost, "/v1/import", exported, "Content-Type", "application/x-ndjson").want(http.StatusForbidden)
	to.send("", http.MethodPost, "/v1/import", exported, "Content-Type", "application/x-ndjson").want(http.StatusUnauthorized)
	to.sendBare(to.admin, http.MethodPost, "/v1/import", exported, "Content-Type", "text/csv").want(http.StatusUnsupportedMediaType)
	if got := from.takeIn(exported).want(http.StatusConflict); !strings.Contains(string(got.body), "more than keys") {
		t.Errorf("into a book that is not empty: %s", got.body)
	}
	small := to.beside(t, false)
	small.most = int64(len(exported) - 1)
	small.serve()
	small.takeIn(exported).want(http.StatusRequestEntityTooLarge)
	if v := to.use.Version(); v != 2 {
		t.Errorf("after all that was refused the book is at version %d, want 2", v)
	}
	small.most++
	small.serve()
	small.takeIn(exported).want(http.StatusOK)
}

// TestAnImportRepeats sends an import again under its idempotency key.
func TestAnImportRepeats(t *testing.T) {
	t.Parallel()
	_, exported := hallExport(t)
	to := newSite(t)
	first := to.takeIn(exported, "Idempotency-Key", "move").want(http.StatusOK)
	to.post(to.admin, "/v1/crews", m{"slug": "new-van", "name": "New van"}).want(http.StatusCreated)
	for _, s := range []*site{to, to.beside(t, false)} {
		if again := s.takeIn(exported, "Idempotency-Key", "move").want(http.StatusOK); !bytes.Equal(again.body, first.body) {
			t.Errorf("the repeat answers %s, the first %s", again.body, first.body)
		}
	}
	to.takeIn(append(exported, '\n'), "Idempotency-Key", "move").refuses(http.StatusUnprocessableEntity, "Idempotency-Key", "a new key")
	to.takeIn(exported).want(http.StatusConflict)
}

// TestNoKeyOfAnImportGivesAccess imports an export into which somebody wrote
// the hash of a secret that they know.
func TestNoKeyOfAnImportGivesAccess(t *testing.T) {
	t.Parallel()
	from, exported := hallExport(t)
	key, ok := from.use.Authenticate(t.Context(), from.admin)
	if ok != nil {
		t.Fatal(ok)
	}
	facts, err := from.store.Facts(t.Context(), 0, from.use.Point())
	if err != nil {
		t.Fatal(err)
	}
	text, err := facts.Keys[0].Hash.MarshalText()
	if err != nil {
		t.Fatal(err)
	}
	with := fmt.Sprintf(`{"key":{"id":"%s","hash":"%s",`, key.Key, text)
	forged := strings.Replace(string(exported), fmt.Sprintf(`{"key":{"id":"%s",`, key.Key), with, 1)
	if !strings.Contains(forged, with) {
		t.Fatalf("nothing was forged in %.500s", exported)
	}
	to := newSite(t)
	to.takeIn([]byte(forged)).want(http.StatusOK)
	to.get(from.admin, "/v1/crews").want(http.StatusUnauthorized)
	to.get(to.admin, "/v1/crews").want(http.StatusOK)
}

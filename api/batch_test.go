package api_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"
)

// item is a measurement of the hall as a batch carries it.
func item(clientID string) m {
	in := clap(5, "early")
	in["rig"], in["client_id"] = "red-van.hall", clientID
	return in
}

func lines(t *testing.T, items ...any) string {
	t.Helper()
	var b strings.Builder
	for _, x := range items {
		if text, ok := x.(string); ok {
			b.WriteString(text + "\n")
			continue
		}
		line, err := json.Marshal(x)
		if err != nil {
			t.Fatal(err)
		}
		b.Write(append(line, '\n'))
	}
	return b.String()
}

// TestEachMeasurementOfABatchStandsForItself mixes good and bad ones: each gets
// the answer that it would have got alone.
func TestEachMeasurementOfABatchStandsForItself(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech := s.key("tech", "red-van")
	id := func() string { return uuid.NewString() }
	wrong := item(id())
	wrong["sound"] = "pulpit"
	elsewhere := item(id())
	elsewhere["rig"] = "blue-van.cellar"
	nowhere := item(id())
	delete(nowhere, "rig")
	same, other := item(id()), m{}
	for name, value := range same {
		other[name] = value
	}
	other["note"] = "another one"
	cases := []struct {
		what    string
		send    any
		status  float64
		pointer string
	}{
		{"a good one", item(id()), 201, ""},
		{"an unknown chain", wrong, 422, "/sound"},
		{"an unknown member", `{"client_id":"5b1c0b0e-4a6c-4c8e-9d0e-2f1a3b4c5d6e","mood":"good"}`, 422, "/mood"},
		{"a member given twice", `{"rig":"hall","rig":"hall"}`, 422, "/rig"},
		{"a number for an object", `5`, 422, ""},
		{"null", `null`, 422, ""},
		{"a rig that is not there", elsewhere, 404, ""},
		{"no rig", nowhere, 422, "/rig"},
		{"a client_id that is none", item("one"), 422, "/client_id"},
		{"one that comes twice", same, 201, ""},
		{"its repeat", same, 201, ""},
		{"another one under its client_id", other, 422, "/client_id"},
		{"the last good one", item(id()), 201, ""},
	}
	var send []any
	for _, c := range cases {
		send = append(send, c.send)
	}
	array := "[" + strings.TrimSuffix(strings.ReplaceAll(lines(t, send...), "\n", ","), ",") + "]"
	for what, answer := range map[string]answer{
		"an array": s.send(tech, http.MethodPost, "/v1/measurements", []byte(array)),
		"lines":    s.send(tech, http.MethodPost, "/v1/measurements", []byte(lines(t, send...)), "Content-Type", "application/x-ndjson"),
	} {
		answer.want(http.StatusOK)
		items := answer.at("items").([]any)
		if len(items) != len(cases) {
			t.Fatalf("%s: %d answers to %d measurements", what, len(items), len(cases))
		}
		for i, c := range cases {
			got := items[i].(m)
			if got["index"] != float64(i) || got["status"] != c.status {
				t.Errorf("%s, %s: got %v, want %v", what, c.what, got, c.status)
				continue
			}
			if sent, ok := c.send.(m); ok && got["client_id"] != sent["client_id"] {
				t.Errorf("%s, %s: client_id %v, want %v", what, c.what, got["client_id"], sent["client_id"])
			}
			if c.status == 201 {
				if got["problem"] != nil || got["id"] == nil {
					t.Errorf("%s, %s: got %v", what, c.what, got)
				}
				continue
			}
			p := got["problem"].(m)
			if p["status"] != c.status || got["id"] != nil {
				t.Errorf("%s, %s: got %v", what, c.what, got)
			}
			if fields := p["fields"].([]any); c.pointer != "" && (len(fields) == 0 || fields[0].(m)["pointer"] != c.pointer) {
				t.Errorf("%s, %s: got %v, want a fault at %s", what, c.what, p, c.pointer)
			}
		}
		if items[9].(m)["id"] != items[10].(m)["id"] {
			t.Errorf("%s: a repeat within the batch was stored twice", what)
		}
		if got := items[2].(m)["client_id"]; got != "5b1c0b0e-4a6c-4c8e-9d0e-2f1a3b4c5d6e" {
			t.Errorf("%s: an item that can not be read has client_id %v", what, got)
		}
	}
	// The second of the two batches stored nothing new.
	if stored := s.get(tech, "/v1/rigs/hall/measurements").at("items").([]any); len(stored) != 3 {
		t.Errorf("%d measurements are stored, want 3", len(stored))
	}
}

// TestOneMeasurementHoweverItIsSent sends one measurement alone, again, in a
// batch, and with its identifier in the header only.
func TestOneMeasurementHoweverItIsSent(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech := s.key("tech", "red-van")
	const id = "7d3b1a52-0a9e-4d2a-8b1f-6f0d3c2b1a00"
	alone := item(id)
	delete(alone, "rig")
	const path = "/v1/rigs/hall/measurements"
	first := s.post(tech, path, alone).want(http.StatusCreated)
	s.post(tech, path, clap(7, "early")).want(http.StatusCreated) // the book goes on
	if again := s.post(tech, path, alone).want(http.StatusCreated); string(again.body) != string(first.body) {
		t.Errorf("the repeat got another answer:\n%s\n%s", first.body, again.body)
	}
	bare := clap(5, "early")
	if again := s.post(tech, path, bare, "Idempotency-Key", `"`+id+`"`).want(http.StatusCreated); string(again.body) != string(first.body) {
		t.Errorf("the repeat by header got another answer:\n%s\n%s", first.body, again.body)
	}
	batch := s.post(tech, "/v1/measurements", []m{item(id)}).want(http.StatusOK)
	if batch.at("items.0.id") != first.at("measurement.id") || batch.at("items.0.status") != 201.0 {
		t.Errorf("the batch stored it again: %s", batch.body)
	}
	colleague := s.post(s.key("editor", "red-van"), path, alone).want(http.StatusCreated)
	if colleague.at("measurement.id") != first.at("measurement.id") {
		t.Errorf("another key of the crew stored it again")
	}
	alone["note"] = "another one"
	s.post(tech, path, alone).refuses(http.StatusUnprocessableEntity, "/client_id", "a new UUID")
	s.post(tech, path, clap(4, "late"), "Idempotency-Key", id).refuses(http.StatusUnprocessableEntity, "/client_id", "a new UUID")
	if stored := s.get(tech, path).at("items").([]any); len(stored) != 2 {
		t.Errorf("%d measurements are stored, want 2", len(stored))
	}
}

func TestBatchesAreBounded(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	tech := s.key("tech", "red-van")
	many := "[" + strings.Repeat("{},", 10_000) + "{}]"
	s.send(tech, http.MethodPost, "/v1/measurements", []byte(many)).want(http.StatusRequestEntityTooLarge)
	s.send(tech, http.MethodPost, "/v1/measurements", []byte(strings.Repeat(" ", 32<<20+1))).want(http.StatusRequestEntityTooLarge)
	for _, c := range []struct {
		what, body, media string
		status            int
	}{
		{"no array", `{}`, "application/json", 422},
		{"an empty array", `[]`, "application/json", 422},
		{"no lines", "\n\n", "application/x-ndjson", 422},
		{"nothing", ``, "application/json", 400},
		{"half an array", `[{},`, "application/json", 400},
		{"another media type", `[]`, "text/csv", 415},
	} {
		if got := s.send(tech, http.MethodPost, "/v1/measurements", []byte(c.body), "Content-Type", c.media); got.status != c.status {
			t.Errorf("%s: got %d %s, want %d", c.what, got.status, got.body, c.status)
		}
	}
	broken := s.sendBare(tech, http.MethodPost, "/v1/measurements", []byte("{\"rig\":\n"+lines(t, item(uuid.NewString()))), "Content-Type", "application/x-ndjson").want(http.StatusOK)
	if broken.at("items.0.status") != 400.0 || broken.at("items.1.status") != 201.0 {
		t.Errorf("a broken line spoilt the others: %s", broken.body)
	}
	s.post(s.key("reader", "red-van"), "/v1/measurements", []m{item(uuid.NewString())}).want(http.StatusForbidden)
}

// TestABatchOfTenThousand is stored in one version of the book.
func TestABatchOfTenThousand(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.addHall()
	var b strings.Builder
	for i := range 10_000 {
		fmt.Fprintf(&b, `{"rig":"hall","client_id":"5b1c0b0e-4a6c-4c8e-9d0e-%012d","picture":"cam-1","sound":"lectern","method":"clap",`+
			`"readings":[{"frames":%d,"heard":"early"}],"settings":[{"control":"lectern-delay","value":0}]}`+"\n", i, 4+i%3)
	}
	before := s.use.Version()
	got := s.send(s.key("tech", "red-van"), http.MethodPost, "/v1/measurements", []byte(b.String()), "Content-Type", "application/x-ndjson").want(http.StatusOK)
	if v := got.at("book_version"); v != float64(s.use.Version()) || s.use.Version() > before+3 { // the crew's key is one
		t.Errorf("the batch made version %v of %d", v, s.use.Version())
	}
	for i, x := range got.at("items").([]any) {
		if x.(m)["status"] != 201.0 {
			t.Fatalf("item %d: %v", i, x)
		}
	}
}

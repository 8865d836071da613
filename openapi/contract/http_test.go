package contract_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"delaybook/openapi/contract"
)

func TestHandlerLeavesTheRequestToTheServer(t *testing.T) {
	t.Parallel()
	const sent = `{"control":"c","value":6}`
	next := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, 4)
		if _, err := io.ReadAll(r.Body); err == nil {
			t.Error("the server's own limit did not hold")
		}
		answer{422, asProblem, `{"title":"t","status":422}`}.ServeHTTP(w, r)
	})
	contract.Handler(t, document(t), next).ServeHTTP(httptest.NewRecorder(), request(t, "", settings, sent))
}

// A handler that answers before it has read the request is held against the whole request all the same.
func TestHandlerReadsWhatTheServerLeft(t *testing.T) {
	t.Parallel()
	tb := &spy{TB: t}
	contract.Handler(tb, document(t), answer{204, "", ""}).
		ServeHTTP(httptest.NewRecorder(), request(t, "", settings, `{"control":"c"}`))
	judge(t, tb.said, []string{`"value" is missing`})
}

func TestHandlerFlushes(t *testing.T) {
	t.Parallel()
	next := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/plain")
		_, _ = io.WriteString(w, "c 6 frame\n")
		if err := http.NewResponseController(w).Flush(); err != nil {
			t.Errorf("flushing through a controller: %v", err)
		}
		w.(http.Flusher).Flush()
	})
	rec := httptest.NewRecorder()
	contract.Handler(t, document(t), next).ServeHTTP(rec, request(t, "", delays, ""))
	if !rec.Flushed {
		t.Error("nothing was flushed")
	}
}

// Only a handler under test shows this: on the wire net/http drops such a body.
func TestHandlerRefusesABodyThatHTTPDrops(t *testing.T) {
	t.Parallel()
	for status, line := range map[int]string{http.StatusNotModified: delays, http.StatusNoContent: settings} {
		tb := &spy{TB: t}
		contract.Handler(tb, document(t), answer{status, "", "text"}).
			ServeHTTP(httptest.NewRecorder(), request(t, "", line, `{"control":"c","value":6}`))
		judge(t, tb.said, []string{"a body of 4 bytes where HTTP allows none"})
	}
}

// The header counts as it was when the status went out: what is set later never reaches the client.
func TestHandlerJudgesTheHeaderThatWasSent(t *testing.T) {
	t.Parallel()
	next := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		w.WriteHeader(http.StatusOK)
		w.Header().Set("Content-Type", "text/plain")
		_, _ = io.WriteString(w, "c 6 frame\n")
	})
	tb := &spy{TB: t}
	contract.Handler(tb, document(t), next).ServeHTTP(httptest.NewRecorder(), request(t, "", delays, ""))
	judge(t, tb.said, []string{"text/html"})
}

func TestABrokenDocumentEndsTheTest(t *testing.T) {
	t.Parallel()
	for _, doc := range []string{"", "{}", `{"openapi":"3.0.3","info":{"title":"t","version":"1"},"paths":{"x":{}}}`} {
		tb := &spy{TB: t}
		func() {
			defer func() { _ = recover() }()
			contract.Handler(tb, []byte(doc), answer{})
		}()
		if len(tb.said) != 1 || !strings.Contains(tb.said[0], "OpenAPI document") {
			t.Errorf("document %q: said %q", doc, tb.said)
		}
	}
}

package contract_test

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"

	"delaybook/openapi/contract"
)

// spy is a testing.TB that keeps what a test would have been failed with.
type spy struct {
	testing.TB
	said []string
}

func (s *spy) Helper()                        {}
func (s *spy) Errorf(format string, a ...any) { s.said = append(s.said, fmt.Sprintf(format, a...)) }
func (s *spy) Fatal(a ...any) {
	s.said = append(s.said, fmt.Sprint(a...))
	panic(s) // as the real one, it must not return
}

func document(tb testing.TB) []byte {
	tb.Helper()
	doc, err := os.ReadFile("testdata/openapi.json")
	if err != nil {
		tb.Fatal(err)
	}
	return doc
}

// An answer is all that a server in these tests ever says.
type answer struct {
	status      int
	media, body string
}

func (a answer) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if a.media != "" {
		w.Header().Set("Content-Type", a.media)
	}
	w.WriteHeader(a.status)
	_, _ = io.WriteString(w, a.body)
}

const (
	delays    = "GET /v1/rigs/harbour-hall/delays"
	settings  = "POST /v1/settings"
	asJSON    = "application/json"
	asProblem = "application/problem+json"
	notFound  = `{"title":"Not found","status":404}`
)

var exchanges = []struct {
	name, request, sent string
	answer              answer
	want                []string // each must stand in the fault; none means the exchange is in order
}{
	{"a good answer", delays, "", answer{200, asJSON, `{"state":"ok","settings":[{"control":"c","value":6}],"check":null}`}, nil},
	{"a parameter of the media type", delays, "", answer{200, asJSON + "; charset=utf-8", `{"state":"ok","settings":[],"check":null}`}, nil},
	{"a documented problem", delays, "", answer{404, asProblem, notFound}, nil},
	{"a 304 has no body", delays, "", answer{304, "", ""}, nil},
	{"a table", delays, "", answer{200, "text/csv", "control,value\nc,6\n"}, nil},
	{"lines of text", delays, "", answer{200, "text/plain; charset=utf-8", "c 6 frame\n"}, nil},
	{"lines of JSON", delays, "", answer{200, "application/x-ndjson", "{\"control\":\"c\",\"value\":6}\n{\"control\":\"d\",\"value\":0}\n"}, nil},
	{"no line of JSON", delays, "", answer{200, "application/x-ndjson", ""}, nil},
	{"a good request", settings, `{"control":"c","value":6}`, answer{201, asJSON, `{"slug":"s","name":"n"}`}, nil},
	{"a bad request, refused", settings, `{"control":"c","value":-1}`, answer{422, asProblem, `{"title":"t","status":422}`}, nil},
	{"an unknown route, refused", "GET /v1/moon", "", answer{404, asProblem, notFound}, nil},
	{"an unknown method, refused", "DELETE /v1/settings", "", answer{405, asProblem, `{"title":"t","status":405}`}, nil},

	{
		"a bad enum", delays, "",
		answer{200, asJSON, `{"state":"splendid","settings":[],"check":null}`},
		[]string{"GET /v1/rigs/{rig}/delays answered 200", "at /state", "splendid"},
	},
	{
		"a fault deep in a list", delays, "",
		answer{200, asJSON, `{"state":"ok","settings":[{"control":"c","value":6},{"control":"d","value":-1}],"check":null}`},
		[]string{"at /settings/1/value", "-1"},
	},
	{
		"a fault below a reference that may be null", delays, "",
		answer{200, asJSON, `{"state":"ok","settings":[],"check":{"control":"c","value":"six"}}`},
		[]string{`at "/check"`, "at /value", "six"},
	},
	{
		"an undocumented property below a reference that may be null", delays, "",
		answer{200, asJSON, `{"state":"ok","settings":[],"check":{"control":"c","value":6,"vlaue":7}}`},
		[]string{`"vlaue" is unsupported`},
	},
	{"a missing property", delays, "", answer{200, asJSON, `{"state":"ok","check":null}`}, []string{`"settings" is missing`}},
	{
		"an undocumented property", delays, "",
		answer{200, asJSON, `{"state":"ok","settings":[],"check":null,"sate":1}`},
		[]string{`"sate" is unsupported`},
	},
	{
		"an instant that is none", delays, "",
		answer{200, asJSON, `{"state":"ok","settings":[],"check":null,"at":"yesterday"}`},
		[]string{`at "/at"`, "date-time"},
	},
	{"JSON that is none", delays, "", answer{200, asJSON, `{"state":`}, []string{"answered 200", "decode"}},
	{"an undocumented status", delays, "", answer{202, asJSON, `{}`}, []string{"answered 202", "does not have this status"}},
	{"an undocumented redirect", settings, `{"control":"c","value":6}`, answer{308, "", ""}, []string{"answered 308", "does not have this status"}},
	{"an undocumented path", "GET /v1/moon", "", answer{200, asJSON, `{}`}, []string{"GET /v1/moon answered 200", "no such operation"}},
	{"an undocumented method", "DELETE /v1/settings", "", answer{200, asJSON, `{}`}, []string{"DELETE /v1/settings answered 200", "no such operation"}},
	{"an unknown route, refused without a problem", "GET /v1/moon", "", answer{404, "text/plain", "no"}, []string{"answered 404 text/plain"}},
	{"a problem as plain JSON", delays, "", answer{404, asJSON, notFound}, []string{"answered 404", asJSON}},
	{"an undocumented media type", delays, "", answer{200, "text/html", "<p>"}, []string{"answered 200", "text/html"}},
	{"a ragged table", delays, "", answer{200, "text/csv", "control,value\nc\n"}, []string{"answered 200", "wrong number of fields"}},
	{"an empty table", delays, "", answer{200, "text/csv", ""}, []string{"without a heading"}},
	{"a broken line of JSON", delays, "", answer{200, "application/x-ndjson", "{\"control\":\"c\",\"value\":6}\n{\n"}, []string{"line 2"}},
	{"a bad line of JSON", delays, "", answer{200, "application/x-ndjson", "{\"control\":\"c\",\"value\":-6}\n"}, []string{"at /0/value"}},
	{"no body where none is documented", settings, `{"control":"c","value":6}`, answer{204, "", ""}, nil},
	{"a body where none is documented", settings, `{"control":"c","value":6}`, answer{202, asJSON, "{}"}, []string{"answered 202", "the document has none"}},
	{
		"a bad body, accepted", settings, `{"control":"c","value":-1}`,
		answer{201, asJSON, `{"slug":"s"}`},
		[]string{"POST /v1/settings answered 201 to a request that the document calls wrong", "at /value"},
	},
	{"a bad query, accepted", delays + "?force=2", "", answer{304, "", ""}, []string{"answered 304 to a request", "force"}},
	{"no body, accepted", settings, "", answer{204, "", ""}, []string{"answered 204 to a request", "required"}},
}

func request(tb testing.TB, base, line, body string) *http.Request {
	tb.Helper()
	method, target, _ := strings.Cut(line, " ")
	var reader io.Reader
	if body != "" {
		reader = strings.NewReader(body)
	}
	req, err := http.NewRequestWithContext(tb.Context(), method, base+target, reader)
	if err != nil {
		tb.Fatal(err)
	}
	if body != "" {
		req.Header.Set("Content-Type", asJSON)
	}
	return req
}

func TestHandler(t *testing.T) {
	t.Parallel()
	for _, x := range exchanges {
		t.Run(x.name, func(t *testing.T) {
			t.Parallel()
			tb := &spy{TB: t}
			rec := httptest.NewRecorder()
			contract.Handler(tb, document(t), x.answer).ServeHTTP(rec, request(t, "http://a.test", x.request, x.sent))
			judge(t, tb.said, x.want)
			if rec.Code != x.answer.status || rec.Body.String() != x.answer.body {
				t.Errorf("passed on %d %q, want %d %q", rec.Code, rec.Body, x.answer.status, x.answer.body)
			}
		})
	}
}

func TestTransport(t *testing.T) {
	t.Parallel()
	for _, x := range exchanges {
		t.Run(x.name, func(t *testing.T) {
			t.Parallel()
			server := httptest.NewServer(x.answer)
			t.Cleanup(server.Close)
			tb := &spy{TB: t}
			response, err := contract.Transport(tb, document(t), nil).RoundTrip(request(t, server.URL, x.request, x.sent))
			if err != nil {
				t.Fatal(err)
			}
			defer response.Body.Close()
			judge(t, tb.said, x.want)
			body, err := io.ReadAll(response.Body)
			if err != nil || string(body) != x.answer.body {
				t.Errorf("handed on %q, %v; want %q", body, err, x.answer.body)
			}
		})
	}
}

func judge(tb testing.TB, said, want []string) {
	tb.Helper()
	if len(want) == 0 && len(said) > 0 {
		tb.Errorf("failed a good exchange: %s", said)
	}
	for _, part := range want {
		if len(said) != 1 || !strings.Contains(said[0], part) {
			tb.Errorf("said %q, want one fault that says %q", said, part)
		}
	}
}

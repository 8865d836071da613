package convert_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"delaybook/openapi/internal/convert"
)

var update = flag.Bool("update", false, "rewrite the golden document")

// testdata/sample.swagger.json is the output of swag 1.16.6 for testdata/sample:
//
//	go tool -modfile=.ci/tools/go.mod swag init --quiet --requiredByDefault --generalInfo server.go \
//	  --dir openapi/internal/convert/testdata/sample --outputTypes json --output FOLDER
func sample(tb testing.TB) []byte {
	tb.Helper()
	raw, err := os.ReadFile("testdata/sample.swagger.json")
	if err != nil {
		tb.Fatal(err)
	}
	return raw
}

func TestDocumentOfTheSample(t *testing.T) {
	t.Parallel()
	got, err := convert.Document(sample(t), nil)
	if err != nil {
		t.Fatal(err)
	}
	const golden = "testdata/sample.openapi.json"
	if *update {
		if err := os.WriteFile(golden, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Errorf("document (-want +got):\n%s", diff)
	}
}

func TestDocumentIsDeterministic(t *testing.T) {
	t.Parallel()
	first, err := convert.Document(sample(t), nil)
	if err != nil {
		t.Fatal(err)
	}
	for range 20 { // Go starts each walk over a map elsewhere
		again, err := convert.Document(sample(t), nil)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(first, again) {
			t.Fatal("the same input gave two documents")
		}
	}
}

// operation is a Swagger document with one GET /v1/x whose members are given.
func operation(members, rest string) string {
	return `{"swagger":"2.0","info":{"title":"t","version":"1"},` + rest +
		`"paths":{"/v1/x":{"get":{` + members + `}}}}`
}

const (
	okString = `"responses":{"200":{"description":"OK","schema":{"type":"string"}}}`
	problem  = `"definitions":{"Problem":{"type":"object"},"Row":{"type":"object"}},`
	at       = "paths /v1/x get "
)

func TestPatchRules(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, swagger string
		path          string // keys down to the value, separated by spaces
		want          string // JSON; "" for a value that must be absent
	}{
		{"the server is relative", operation(okString, ""), "servers", `[{"description":"this deployment","url":"/"}]`},
		{"a route names its operation", operation(okString, ""), at + "operationId", `"getX"`},
		{"a given operation id stays", operation(`"operationId":"x",`+okString, ""), at + "operationId", `"x"`},
		{
			"an error has problem+json only",
			operation(`"produces":["application/json","text/csv","application/problem+json"],
				"responses":{"404":{"description":"d","schema":{"$ref":"#/definitions/Problem"}}}`, problem),
			at + "responses 404 content", `{"application/problem+json":{"schema":{"$ref":"#/components/schemas/Problem"}}}`,
		},
		{
			"an error without a schema carries the Problem",
			operation(`"responses":{"401":{"description":"d"}}`, problem),
			at + "responses 401 content", `{"application/problem+json":{"schema":{"$ref":"#/components/schemas/Problem"}}}`,
		},
		{
			"the default answer is an error",
			operation(`"responses":{"default":{"description":""}}`, problem),
			at + "responses default",
			`{"content":{"application/problem+json":{"schema":{"$ref":"#/components/schemas/Problem"}}},"description":"Any other answer"}`,
		},
		{
			"a success has no problem+json",
			operation(`"produces":["application/json","application/problem+json"],
				"responses":{"200":{"description":"d","schema":{"$ref":"#/definitions/Row"}}}`, problem),
			at + "responses 200 content", `{"application/json":{"schema":{"$ref":"#/components/schemas/Row"}}}`,
		},
		{
			"text is text, whatever the JSON answer holds",
			operation(`"produces":["text/csv"],"responses":{"200":{"description":"d","schema":{"$ref":"#/definitions/Row"}}}`, problem),
			at + "responses 200 content", `{"text/csv":{"schema":{"type":"string"}}}`,
		},
		{
			"a status without a description gets its name",
			operation(`"responses":{"204":{"description":""}}`, ""), at + "responses 204", `{"description":"No Content"}`,
		},
		{
			"the Authorization header is the bearer scheme",
			operation(okString, `"securityDefinitions":{"Key":{"type":"apiKey","in":"header","name":"Authorization"}},`),
			"components securitySchemes Key", `{"scheme":"bearer","type":"http"}`,
		},
		{
			"another header key stays one",
			operation(okString, `"securityDefinitions":{"Key":{"type":"apiKey","in":"header","name":"X-Key"}},`),
			"components securitySchemes Key", `{"in":"header","name":"X-Key","type":"apiKey"}`,
		},
		{
			"the cookie stands beside the bearer key",
			operation(`"security":[{"Key":[]}],`+okString, `"securityDefinitions":{
				"Key":{"type":"apiKey","in":"header","name":"Authorization"},"Cookie":{"type":"apiKey","in":"cookie","name":"c"}},`),
			at + "security", `[{"Key":[]},{"Cookie":[]}]`,
		},
		{
			"an open operation stays open",
			operation(`"security":[],`+okString, `"securityDefinitions":{
				"Key":{"type":"apiKey","in":"header","name":"Authorization"},"Cookie":{"type":"apiKey","in":"cookie","name":"c"}},`),
			at + "security", `[]`,
		},
		{
			"x-nullable is nullable",
			operation(okString, `"definitions":{"N":{"type":"number","x-nullable":true}},`),
			"components schemas N", `{"nullable":true,"type":"number"}`,
		},
		{
			"an example that is an instant makes the format",
			operation(okString, `"definitions":{"T":{"type":"array","items":{"type":"string","example":"2026-11-20T18:04:00Z"}}},`),
			"components schemas T items", `{"example":"2026-11-20T18:04:00Z","format":"date-time","type":"string"}`,
		},
		{
			"a date is no instant",
			operation(okString, `"definitions":{"T":{"type":"string","example":"2026-11-20"}},`),
			"components schemas T", `{"example":"2026-11-20","type":"string"}`,
		},
		{
			"a parameter keeps its example",
			operation(`"parameters":[{"in":"query","name":"q","type":"string","example":"2026-11-20T18:04:00Z"}],`+okString, ""),
			at + "parameters", `[{"example":"2026-11-20T18:04:00Z","in":"query","name":"q","schema":{"format":"date-time","type":"string"}}]`,
		},
		{
			"a schema loses its package",
			operation(okString, `"definitions":{"api.row":{"type":"string"},"L":{"type":"array","items":{"$ref":"#/definitions/api.row"}}},`),
			"components schemas", `{"L":{"items":{"$ref":"#/components/schemas/Row"},"type":"array"},"Row":{"type":"string"}}`,
		},
		{
			"two schemas of one name keep their packages",
			operation(okString, `"definitions":{"api.Row":{"type":"string"},"domain.Row":{"type":"number"}},`),
			"components schemas", `{"api.Row":{"type":"string"},"domain.Row":{"type":"number"}}`,
		},
		{
			"a schema does not take the name of another",
			operation(okString, `"definitions":{"api.Row":{"type":"string"},"Row":{"type":"number"}},`),
			"components schemas", `{"Row":{"type":"number"},"api.Row":{"type":"string"}}`,
		},
		{
			"a list is named after what it lists",
			operation(okString, `"definitions":{"api.List-Crew":{"type":"string"}},`),
			"components schemas", `{"CrewList":{"type":"string"}}`,
		},
		{"empty fields go", operation(`"summary":"","tags":[],`+okString, ""), at + "summary", ""},
		{
			"a property may be called like a keyword",
			operation(okString, `"definitions":{"T":{"type":"object","properties":{"content":{},"name":{"type":"string"}}}},`),
			"components schemas T properties", `{"content":{},"name":{"type":"string"}}`,
		},
		{
			"names of Go constants go",
			operation(okString, `"definitions":{"T":{"type":"string","enum":["ok"],"x-enum-varnames":["OK"]}},`),
			"components schemas T", `{"enum":["ok"],"type":"string"}`,
		},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			doc, err := convert.Document([]byte(test.swagger), nil)
			if err != nil {
				t.Fatal(err)
			}
			if got := member(t, doc, test.path); got != test.want {
				t.Errorf("%s = %s, want %s", test.path, got, test.want)
			}
		})
	}
}

// member answers the value at path as compact JSON with sorted keys, or "" where there is none.
func member(tb testing.TB, doc []byte, path string) string {
	tb.Helper()
	var value any
	if err := json.Unmarshal(doc, &value); err != nil {
		tb.Fatal(err)
	}
	for key := range strings.SplitSeq(path, " ") {
		object, ok := value.(map[string]any)
		if !ok {
			tb.Fatalf("no object above %q of %q", key, path)
		}
		if value, ok = object[key]; !ok {
			return ""
		}
	}
	raw, err := json.Marshal(value)
	if err != nil {
		tb.Fatal(err)
	}
	return string(raw)
}

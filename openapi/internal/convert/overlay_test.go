package convert_test

import (
	"strings"
	"testing"

	"delaybook/openapi/internal/convert"
)

func TestOverlay(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, overlay, path, want string }{
		{
			"a media type is added to a status",
			`{"paths":{"/v1/x":{"get":{"responses":{"200":{"content":{"text/csv":{"schema":{"type":"string"}}}}}}}}}`,
			at + "responses 200 content",
			`{"application/json":{"schema":{"type":"string"}},"text/csv":{"schema":{"type":"string"}}}`,
		},
		{
			"null removes (RFC 7396 section 2)",
			`{"paths":{"/v1/x":{"get":{"summary":null}}}}`,
			at + "summary", "",
		},
		{
			"a list is replaced whole (RFC 7396 section 1)",
			`{"paths":{"/v1/x":{"get":{"tags":["b"]}}}}`,
			at + "tags", `["b"]`,
		},
		{
			"numbers stay as written",
			`{"components":{"schemas":{"N":{"type":"number","maximum":1000000}}}}`,
			"components schemas N", `{"maximum":1000000,"type":"number"}`,
		},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			doc, err := convert.Document([]byte(operation(`"summary":"s","tags":["a"],`+okString, "")), []byte(test.overlay))
			if err != nil {
				t.Fatal(err)
			}
			if got := member(t, doc, test.path); got != test.want {
				t.Errorf("%s = %s, want %s", test.path, got, test.want)
			}
		})
	}
}

func TestDocumentRefuses(t *testing.T) {
	t.Parallel()
	good := operation(okString, "")
	tests := []struct{ name, swagger, overlay, want string }{
		{"text that is not JSON", "swagger", "", "reading the Swagger document"},
		{"a base path", operation(okString, `"basePath":"/v1",`), "", "write the whole path in each @Router"},
		{"no handler", `{"swagger":"2.0","info":{"title":"t","version":"1"},"paths":{}}`, "", "no handler has an @Router"},
		{"a document without a title", strings.Replace(good, `"title":"t",`, "", 1), "", "not valid"},
		{"an overlay that is not JSON", good, "{", "reading the overlay"},
		{"an overlay with a tail", good, "{} {}", "more than one JSON value"},
		{"an overlay for a path that is gone", good, `{"paths":{"/v1/y":{"get":{}}}}`, "GET /v1/y, which no handler"},
		{"an overlay for a method that is gone", good, `{"paths":{"/v1/x":{"post":{}}}}`, "POST /v1/x, which no handler"},
		{"an overlay for a status that is gone", good, `{"paths":{"/v1/x":{"get":{"responses":{"201":{}}}}}}`, "status 201 of GET /v1/x"},
		{"an overlay that breaks the document", good, `{"paths":{"/v1/x":{"get":{"parameters":[{"in":"moon","name":"m"}]}}}}`, "not valid"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			_, err := convert.Document([]byte(test.swagger), []byte(test.overlay))
			if err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("error %v, want one that says %q", err, test.want)
			}
		})
	}
}

package contract

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"sync"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
)

// registerDecoders teaches the library the media types of the API that it does not know. Its registry is one for
// the process; doing it twice would be a race with the tests that are running.
var registerDecoders = sync.OnceFunc(func() {
	for _, media := range []string{"application/x-ndjson", "application/ndjson"} {
		openapi3filter.RegisterBodyDecoder(media, decodeNDJSON)
	}
	openapi3filter.RegisterBodyDecoder("text/csv", decodeCSV)
	for _, media := range []string{
		"text/html", "text/event-stream", "image/svg+xml", "image/png", "image/jpeg", "video/mp4", "video/quicktime",
		"application/offset+octet-stream",
	} {
		openapi3filter.RegisterBodyDecoder(media, openapi3filter.PlainBodyDecoder)
	}
})

// decodeNDJSON reads one JSON value a line. A schema of type array gets the list of them, so that the document can
// describe a line as its items; any other gets the text.
func decodeNDJSON(body io.Reader, _ http.Header, ref *openapi3.SchemaRef, _ openapi3filter.EncodingFn) (any, error) {
	raw, err := io.ReadAll(body)
	if err != nil {
		return nil, err
	}
	lines, n := []any{}, 0
	for line := range bytes.Lines(raw) {
		n++
		var value any
		if err := json.Unmarshal(line, &value); err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		lines = append(lines, value)
	}
	if ref.Value.Type.Is(openapi3.TypeArray) {
		return lines, nil
	}
	return string(raw), nil
}

// decodeCSV answers the text, and refuses what is not a table of RFC 4180 with a heading and rows as wide as it.
func decodeCSV(body io.Reader, _ http.Header, _ *openapi3.SchemaRef, _ openapi3filter.EncodingFn) (any, error) {
	raw, err := io.ReadAll(body)
	if err != nil {
		return nil, err
	}
	rows, err := csv.NewReader(bytes.NewReader(raw)).ReadAll()
	if err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		return nil, errors.New("a table without a heading")
	}
	return string(raw), nil
}

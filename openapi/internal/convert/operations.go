package convert

import (
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

const (
	jsonMedia    = "application/json"
	problemMedia = "application/problem+json"
	// problemSchema is the schema of an error whose comment names none.
	problemSchema = "Problem"
)

func patchOperations(doc *openapi3.T) {
	for path, item := range doc.Paths.Map() {
		for method, op := range item.Operations() {
			if op.OperationID == "" {
				op.OperationID = operationID(method, path)
			}
			for status, response := range op.Responses.Map() {
				patchResponse(doc, status, response.Value)
			}
		}
	}
}

// carryExamples brings over the examples of parameters. swag writes them, but Swagger 2.0 has no such field, so
// that the conversion's own reading of the document has dropped them already.
func carryExamples(swagger tree, to *openapi3.T) {
	for path, item := range object(swagger["paths"]) {
		for method, op := range object(item) {
			converted := to.Paths.Value(path).GetOperation(strings.ToUpper(method))
			parameters, _ := object(op)["parameters"].([]any)
			if converted == nil {
				continue
			}
			for _, parameter := range parameters {
				p := object(parameter)
				in, _ := p["in"].(string)
				name, _ := p["name"].(string)
				if target := converted.Parameters.GetByInAndName(in, name); target != nil && p["example"] != nil {
					target.Example = p["example"]
				}
			}
		}
	}
}

// operationID names an operation after its route: GET /v1/rigs/{rig}/delays is getRigsByRigDelays.
func operationID(method, path string) string {
	var b strings.Builder
	b.WriteString(strings.ToLower(method))
	for part := range strings.SplitSeq(strings.TrimPrefix(path, "/v1"), "/") {
		if name, ok := strings.CutPrefix(part, "{"); ok {
			b.WriteString("By")
			part = strings.TrimSuffix(name, "}")
		}
		for word := range strings.FieldsFuncSeq(part, func(r rune) bool { return r == '-' || r == '.' || r == '_' }) {
			b.WriteString(strings.ToUpper(word[:1]) + word[1:])
		}
	}
	return b.String()
}

// patchResponse gives a response the media types that are really sent with its status. Swagger 2.0 lists media
// types per operation, so that each status comes out of the conversion with all of them.
func patchResponse(doc *openapi3.T, status string, response *openapi3.Response) {
	if response == nil {
		return
	}
	if response.Description == nil || *response.Description == "" {
		response.Description = new(statusText(status))
	}
	if isError(status) {
		response.Content = problemContent(doc, response.Content)
		return
	}
	delete(response.Content, problemMedia)
	for media, content := range response.Content {
		if !isJSON(media) && !isText(content.Schema) {
			response.Content[media] = openapi3.NewMediaType().WithSchema(openapi3.NewStringSchema())
		}
	}
}

// problemContent keeps the schema that the comment gave an error, whatever media type it was listed under.
func problemContent(doc *openapi3.T, content openapi3.Content) openapi3.Content {
	for _, media := range slices.Concat([]string{problemMedia, jsonMedia}, slices.Sorted(maps.Keys(content))) {
		if c := content[media]; c != nil && c.Schema != nil {
			return openapi3.Content{problemMedia: c}
		}
	}
	if named := doc.Components.Schemas[problemSchema]; named != nil {
		ref := openapi3.NewSchemaRef("#/components/schemas/"+problemSchema, named.Value)
		return openapi3.Content{problemMedia: openapi3.NewMediaType().WithSchemaRef(ref)}
	}
	return nil
}

func isError(status string) bool { return status == "default" || status >= "400" }

func isJSON(media string) bool {
	return media == jsonMedia || strings.HasSuffix(media, "+json")
}

// isText tells whether a schema describes text or bytes, or is absent: all that a media type other than JSON can carry.
func isText(schema *openapi3.SchemaRef) bool {
	return schema == nil || schema.Value != nil && schema.Value.Type.Is(openapi3.TypeString) && schema.Ref == ""
}

func statusText(status string) string {
	code, err := strconv.Atoi(status)
	if text := http.StatusText(code); err == nil && text != "" {
		return text
	}
	return "Any other answer"
}

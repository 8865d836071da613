package contract

import (
	"github.com/getkin/kin-openapi/openapi3"
)

// closeSchemas makes an undocumented property a fault in every object that lists its properties and does not speak
// of others. Without it a renamed property passes as long as the old one is not required.
//
// The parts of a composition stay open: each of them sees the properties of the others.
func closeSchemas(spec *openapi3.T) {
	w := walker{seen: map[*openapi3.Schema]bool{}, parts: map[*openapi3.Schema]bool{}}
	for _, schema := range spec.Components.Schemas {
		w.walk(schema)
	}
	for _, item := range spec.Paths.Map() {
		for _, op := range item.Operations() {
			if op.RequestBody != nil && op.RequestBody.Value != nil {
				w.walkContent(op.RequestBody.Value.Content)
			}
			for _, response := range op.Responses.Map() {
				if response.Value != nil {
					w.walkContent(response.Value.Content)
				}
			}
		}
	}
	for schema := range w.seen {
		ap := schema.AdditionalProperties
		if len(schema.Properties) > 0 && !w.parts[schema] && ap.Has == nil && ap.Schema == nil {
			schema.AdditionalProperties.Has = new(false)
		}
	}
}

type walker struct {
	seen  map[*openapi3.Schema]bool
	parts map[*openapi3.Schema]bool // members and owners of a composition
}

func (w walker) walkContent(content openapi3.Content) {
	for _, media := range content {
		w.walk(media.Schema)
	}
}

func (w walker) walk(ref *openapi3.SchemaRef) {
	if ref == nil || ref.Value == nil || w.seen[ref.Value] {
		return
	}
	schema := ref.Value
	w.seen[schema] = true
	w.walk(schema.Items)
	w.walk(schema.Not)
	w.walk(schema.AdditionalProperties.Schema)
	for _, property := range schema.Properties {
		w.walk(property)
	}
	// One part alone is how a reference carries a description or may be null; it composes nothing.
	composed := len(schema.AllOf) > 1 || len(schema.AllOf) == 1 && len(schema.Properties) > 0
	for _, group := range []openapi3.SchemaRefs{schema.AllOf, schema.AnyOf, schema.OneOf} {
		for _, part := range group {
			if composed && part.Value != nil {
				w.parts[part.Value] = true
				w.parts[schema] = true
			}
			w.walk(part)
		}
	}
}

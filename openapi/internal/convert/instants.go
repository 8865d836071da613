package convert

import (
	"time"

	"github.com/getkin/kin-openapi/openapi3"
)

// patchInstants gives the format date-time to every string without a format whose example is an RFC 3339
// instant: swag writes a time.Time as a plain string.
func patchInstants(doc *openapi3.T) {
	for _, schema := range doc.Components.Schemas {
		patchInstant(schema)
	}
	for _, item := range doc.Paths.Map() {
		for _, op := range item.Operations() {
			for _, parameter := range op.Parameters {
				patchParameter(parameter.Value)
			}
			for _, response := range op.Responses.Map() {
				if response.Value == nil {
					continue
				}
				for _, content := range response.Value.Content {
					patchInstant(content.Schema)
				}
			}
		}
	}
}

func patchParameter(p *openapi3.Parameter) {
	if p == nil || p.Schema == nil || p.Schema.Value == nil {
		return
	}
	if s := p.Schema.Value; s.Type.Is(openapi3.TypeString) && s.Format == "" && isInstant(p.Example) {
		s.Format = "date-time"
	}
}

// patchInstant does not follow references: what they name is visited among the components.
func patchInstant(ref *openapi3.SchemaRef) {
	if ref == nil || ref.Ref != "" || ref.Value == nil {
		return
	}
	schema := ref.Value
	if schema.Type.Is(openapi3.TypeString) && schema.Format == "" && isInstant(schema.Example) {
		schema.Format = "date-time"
	}
	patchInstant(schema.Items)
	patchInstant(schema.AdditionalProperties.Schema)
	for _, property := range schema.Properties {
		patchInstant(property)
	}
	for _, part := range schema.AllOf {
		patchInstant(part)
	}
}

func isInstant(example any) bool {
	text, ok := example.(string)
	if !ok {
		return false
	}
	_, err := time.Parse(time.RFC3339, text)
	return err == nil
}

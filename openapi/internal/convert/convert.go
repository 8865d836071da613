// Package convert turns the Swagger 2.0 document that swag reads from the handlers' comments into the
// OpenAPI 3.0.3 document that the program serves.
//
// swag's stable release writes Swagger 2.0 only, and 2.0 cannot say what this API does: another media type
// for errors than for answers, a bearer key, a session cookie. [Document] converts and then repairs, in this order:
//
//  1. names: a schema is called Rig, not domain.Rig;
//  2. servers: one, relative, because every path is written out in full;
//  3. media types: problem+json on errors and only there, text where the answer is text;
//  4. security: a header key called Authorization becomes the bearer scheme, and the cookie stands beside it;
//  5. instants: a string whose example is an RFC 3339 instant has the format date-time;
//  6. operation ids, for those that name none;
//  7. the overlay, a hand-kept JSON file with the rest, which has the last word;
//  8. empty fields and the Go names that swag leaks go, and the document is validated.
//
// The same input gives the same bytes: keys are sorted and nothing depends on the clock or the order of maps.
package convert

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"github.com/getkin/kin-openapi/openapi2"
	"github.com/getkin/kin-openapi/openapi2conv"
	"github.com/getkin/kin-openapi/openapi3"
)

// Document converts a Swagger 2.0 document and merges the overlay into it.
//
// overlay is a JSON merge patch (RFC 7396) on the converted document; empty means none. It is an error for it to
// name a path, a method or a status that no handler documents: a renamed route would otherwise leave a ghost behind.
// The answer ends with a line feed. Neither argument is modified.
func Document(swagger, overlay []byte) ([]byte, error) {
	raw, err := parseTree(swagger)
	if err != nil {
		return nil, fmt.Errorf("reading the Swagger document: %w", err)
	}
	shortenNames(raw)
	v3, err := toV3(raw)
	if err != nil {
		return nil, err
	}
	v3.Servers = openapi3.Servers{{URL: "/", Description: "this deployment"}}
	carryExamples(raw, v3)
	patchOperations(v3)
	patchSecurity(v3)
	patchInstants(v3)

	tree, err := toTree(v3)
	if err != nil {
		return nil, err
	}
	if err := mergeOverlay(tree, overlay); err != nil {
		return nil, err
	}
	dropEmpty(tree)
	out, err := encode(tree)
	if err != nil {
		return nil, err
	}
	return out, Validate(out)
}

func toV3(swagger tree) (*openapi3.T, error) {
	raw, err := encode(swagger)
	if err != nil {
		return nil, fmt.Errorf("writing the Swagger document: %w", err)
	}
	var v2 openapi2.T
	if err := json.Unmarshal(raw, &v2); err != nil {
		return nil, fmt.Errorf("reading the Swagger document: %w", err)
	}
	if v2.BasePath != "" && v2.BasePath != "/" {
		return nil, fmt.Errorf("the document has the base path %q: write the whole path in each @Router instead, "+
			"because some routes stand outside it", v2.BasePath)
	}
	v3, err := openapi2conv.ToV3(&v2)
	if err != nil {
		return nil, fmt.Errorf("converting to OpenAPI 3: %w", err)
	}
	return v3, nil
}

// Validate reports why doc is not a valid OpenAPI 3 document.
func Validate(doc []byte) error {
	loader := openapi3.NewLoader()
	v3, err := loader.LoadFromData(doc)
	if err != nil {
		return fmt.Errorf("reading the converted document: %w", err)
	}
	if v3.Paths.Len() == 0 {
		return errors.New("the document has no paths: no handler has an @Router comment")
	}
	if err := v3.Validate(context.Background()); err != nil {
		return fmt.Errorf("the converted document is not valid: %w", err)
	}
	return nil
}

// Package openapi holds the description of the HTTP API and the page that shows it.
//
// openapi.json is generated from the comments of the handlers by make generate, with what Swagger 2.0 cannot say
// added from overlay.json; never edit it by hand. The program serves it as it stands here, and package contract holds
// every answer of the API tests against it.
package openapi

import _ "embed"

//go:embed openapi.json
var document []byte

// Document is the OpenAPI 3.0.3 document of the API, as JSON. The caller must not modify it.
func Document() []byte { return document }

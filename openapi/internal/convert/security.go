package convert

import (
	"maps"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

// patchSecurity turns a header key called Authorization into the bearer scheme, which Swagger 2.0 has no word
// for, and lets every operation that takes it take each cookie scheme instead.
func patchSecurity(doc *openapi3.T) {
	var bearers, cookies []string
	for _, name := range slices.Sorted(maps.Keys(doc.Components.SecuritySchemes)) {
		scheme := doc.Components.SecuritySchemes[name].Value
		switch {
		case scheme.Type != "apiKey":
		case scheme.In == "header" && strings.EqualFold(scheme.Name, "Authorization"):
			scheme.Type, scheme.Scheme = "http", "bearer"
			scheme.In, scheme.Name = "", ""
			bearers = append(bearers, name)
		case scheme.In == "cookie":
			cookies = append(cookies, name)
		}
	}
	doc.Security = withCookies(doc.Security, bearers, cookies)
	for _, item := range doc.Paths.Map() {
		for _, op := range item.Operations() {
			if op.Security != nil {
				op.Security = new(withCookies(*op.Security, bearers, cookies))
			}
		}
	}
}

func withCookies(alternatives openapi3.SecurityRequirements, bearers, cookies []string) openapi3.SecurityRequirements {
	named := map[string]bool{}
	bearer := false
	for _, alternative := range alternatives {
		for name := range alternative {
			named[name] = true
			bearer = bearer || slices.Contains(bearers, name)
		}
	}
	if !bearer {
		return alternatives
	}
	for _, cookie := range cookies {
		if !named[cookie] {
			alternatives = append(alternatives, openapi3.NewSecurityRequirement().Authenticate(cookie))
		}
	}
	return alternatives
}

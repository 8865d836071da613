package api

import (
	"encoding/json"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"delaybook/openapi"

	"github.com/labstack/echo/v4"
)

// TestEveryRouteIsDocumented compares the table of routes with the document,
// both ways. The document itself and its page are not part of it.
func TestEveryRouteIsDocumented(t *testing.T) {
	t.Parallel()
	e := echo.New()
	(&server{}).routes(e)
	var served []string
	parameter := regexp.MustCompile(`:(\w+)`)
	for _, r := range e.Routes() {
		if r.Path == "/openapi.json" || strings.HasPrefix(r.Path, "/docs") || r.Method == echo.RouteNotFound {
			continue
		}
		if r.Method == http.MethodHead {
			continue // every GET has one: see TestHeadIsGetWithoutABody
		}
		served = append(served, r.Method+" "+parameter.ReplaceAllString(r.Path, "{$1}"))
	}
	var document struct {
		Paths map[string]map[string]json.RawMessage `json:"paths"`
	}
	if err := json.Unmarshal(openapi.Document(), &document); err != nil {
		t.Fatal(err)
	}
	var documented []string
	for path, methods := range document.Paths {
		for method := range methods {
			documented = append(documented, strings.ToUpper(method)+" "+path)
		}
	}
	for _, route := range served {
		if !slices.Contains(documented, route) {
			t.Errorf("%s is served and not documented", route)
		}
	}
	for _, route := range documented {
		if !slices.Contains(served, route) {
			t.Errorf("%s is documented and not served", route)
		}
	}
}

package api

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"delaybook/domain"

	"github.com/labstack/echo/v4"
)

// queries are the names of the query parameters of each path and method, as
// the document of the API has them.
type queries map[string]map[string][]string

func readQueries(document []byte) (queries, error) {
	var doc struct {
		Paths map[string]map[string]struct {
			Parameters []struct{ Name, In string }
		}
	}
	if err := json.Unmarshal(document, &doc); err != nil {
		return nil, fmt.Errorf("read the document of the API: %w", err)
	}
	known := queries{}
	for path, methods := range doc.Paths {
		known[path] = map[string][]string{}
		for method, operation := range methods {
			for _, p := range operation.Parameters {
				if p.In == "query" {
					known[path][strings.ToUpper(method)] = append(known[path][strings.ToUpper(method)], p.Name)
				}
			}
		}
	}
	return known, nil
}

// check refuses query parameters that the path does not have, and those given
// twice: one that is misspelt would silently change nothing.
func (q queries) check(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		methods, documented := q[documentPath(c.Path())]
		if !documented {
			return next(c) // there is nothing, and the router says so
		}
		given, err := url.ParseQuery(c.Request().URL.RawQuery)
		if err != nil {
			return badQuery("", "the query can not be read", "name=value pairs, joined by & and percent-encoded")
		}
		known := methods[documentMethod(c.Request().Method)]
		send := "no query parameters"
		if len(known) > 0 {
			send = "only " + strings.Join(known, ", ")
		}
		var bad domain.Fields
		for _, name := range slices.Sorted(maps.Keys(given)) {
			bad.Check(slices.Contains(known, name), name, "there is no such query parameter here", send)
			bad.Check(len(given[name]) == 1, name, "it is given more than once", "one value")
		}
		if err := bad.Err("A parameter of the request is wrong."); err != nil {
			return err
		}
		return next(c)
	}
}

// documentPath writes a path of the router as the document does: "/v1/rigs/{rig}".
func documentPath(path string) string {
	parts := strings.Split(path, "/")
	for i, part := range parts {
		if name, ok := strings.CutPrefix(part, ":"); ok {
			parts[i] = "{" + name + "}"
		}
	}
	return strings.Join(parts, "/")
}

func documentMethod(method string) string {
	if method == http.MethodHead {
		return http.MethodGet
	}
	return method
}

// queryFlag reads a query parameter that is 1 or true, 0 or false, or left out.
func queryFlag(c echo.Context, name string) (bool, error) {
	text := c.QueryParam(name)
	if text == "" {
		return false, nil
	}
	on, err := strconv.ParseBool(text)
	if err != nil {
		return false, badQuery(name, "it is neither on nor off", "1 or 0")
	}
	return on, nil
}

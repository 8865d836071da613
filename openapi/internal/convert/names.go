package convert

import (
	"maps"
	"regexp"
	"slices"
	"strings"
)

// goName is a schema named after a Go type: swag puts the package in front where the comment names no other, and
// the argument of a generic type behind it.
var goName = regexp.MustCompile(`^[a-z]\w*\.(\w+?)(?:-(\w+))?$`)

const definitions = "#/definitions/"

// shortenNames takes the package off the names of schemas, in a Swagger document; a List of Crew is a CrewList. Where that leaves two schemas
// with one name, both keep the long one.
func shortenNames(swagger tree) {
	schemas := object(swagger["definitions"])
	taken := map[string]int{}
	for name := range schemas {
		taken[shortName(name)]++
	}
	renamed := map[string]string{}
	for _, name := range slices.Sorted(maps.Keys(schemas)) {
		short := shortName(name)
		if short == name || taken[short] > 1 {
			continue
		}
		renamed[definitions+name] = definitions + short
		schemas[short] = schemas[name]
		delete(schemas, name)
	}
	renameRefs(swagger, renamed)
}

func shortName(name string) string {
	if parts := goName.FindStringSubmatch(name); parts != nil {
		return parts[2] + strings.ToUpper(parts[1][:1]) + parts[1][1:]
	}
	return name
}

func renameRefs(value any, renamed map[string]string) {
	switch value := value.(type) {
	case tree:
		for key, inner := range value {
			if ref, ok := inner.(string); ok && key == "$ref" && renamed[ref] != "" {
				value[key] = renamed[ref]
			}
			renameRefs(inner, renamed)
		}
	case []any:
		for _, inner := range value {
			renameRefs(inner, renamed)
		}
	}
}

package convert

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
)

// A tree is a JSON object as encoding/json reads it, with numbers kept as written.
type tree = map[string]any

func toTree(doc json.Marshaler) (tree, error) {
	raw, err := doc.MarshalJSON()
	if err != nil {
		return nil, fmt.Errorf("writing the converted document: %w", err)
	}
	return parseTree(raw)
}

func parseTree(raw []byte) (tree, error) {
	decoder := json.NewDecoder(bytes.NewReader(raw))
	decoder.UseNumber() // 200.20 must not come back as 200.2, nor a large bound as 1e+06
	var t tree
	if err := decoder.Decode(&t); err != nil {
		return nil, err
	}
	if _, err := decoder.Token(); err != io.EOF {
		return nil, errors.New("more than one JSON value: send one object")
	}
	return t, nil
}

func encode(t tree) ([]byte, error) {
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	err := encoder.Encode(t) // sorts the keys of maps
	return out.Bytes(), err
}

func mergeOverlay(doc tree, overlay []byte) error {
	if len(bytes.TrimSpace(overlay)) == 0 {
		return nil
	}
	patch, err := parseTree(overlay)
	if err != nil {
		return fmt.Errorf("reading the overlay: %w", err)
	}
	if err := checkOverlay(doc, patch); err != nil {
		return err
	}
	merge(doc, patch)
	return nil
}

// checkOverlay refuses an overlay that speaks of routes or statuses that the handlers do not document.
func checkOverlay(doc, patch tree) error {
	var faults []error
	paths, _ := doc["paths"].(tree)
	for _, path := range slices.Sorted(maps.Keys(object(patch["paths"]))) {
		methods := object(object(patch["paths"])[path])
		for _, method := range slices.Sorted(maps.Keys(methods)) {
			op, ok := object(paths[path])[method]
			if !ok {
				faults = append(faults, fmt.Errorf("the overlay names %s %s, which no handler documents: "+
					"correct the overlay or the @Router comment", strings.ToUpper(method), path))
				continue
			}
			for _, status := range slices.Sorted(maps.Keys(object(object(methods[method])["responses"]))) {
				if _, ok := object(object(op)["responses"])[status]; !ok {
					faults = append(faults, fmt.Errorf("the overlay names status %s of %s %s, which the handler does not "+
						"document: add it to the handler's @Success or @Failure", status, strings.ToUpper(method), path))
				}
			}
		}
	}
	return errors.Join(faults...)
}

// merge applies a JSON merge patch as RFC 7396 section 2 describes.
func merge(target, patch tree) {
	for key, value := range patch {
		switch value := value.(type) {
		case nil:
			delete(target, key)
		case tree:
			inner, ok := target[key].(tree)
			if !ok {
				inner = tree{}
				target[key] = inner
			}
			merge(inner, value)
		default:
			target[key] = value
		}
	}
}

func object(value any) tree {
	t, _ := value.(tree)
	return t
}

// dropEmpty removes texts and objects that say nothing, or nothing outside Go. Only the keywords listed in saysNothing go, and examples
// are left alone: an empty schema, an empty security list and an empty example each mean something.
func dropEmpty(value any) {
	switch value := value.(type) {
	case tree:
		for key, inner := range value {
			switch key {
			case "example", "examples", "default", "enum":
			case "properties", "schemas", "paths", "responses", "securitySchemes":
				// The keys below these are names that people chose, "description" among them.
				for _, named := range object(inner) {
					dropEmpty(named)
				}
			default:
				dropEmpty(inner)
			}
			if saysNothing(key, inner) {
				delete(value, key)
			}
		}
	case []any:
		for _, inner := range value {
			dropEmpty(inner)
		}
	}
}

func saysNothing(keyword string, value any) bool {
	switch keyword {
	case "x-enum-varnames", "x-enum-comments", "x-enum-descriptions", "x-originalParamName":
		return true
	case "description", "summary", "termsOfService", "title", "url", "email", "name":
		return value == ""
	case "contact", "license", "externalDocs", "headers", "content", "properties":
		t, ok := value.(tree)
		return ok && len(t) == 0
	case "parameters", "tags":
		list, ok := value.([]any)
		return ok && len(list) == 0
	}
	return false
}

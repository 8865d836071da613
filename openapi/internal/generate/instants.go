package main

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"time"
)

// checkInstants refuses a field of type time.Time that the document could only call a string. swag drops what
// the type says, so that the format has to come from the tag: format:"date-time", or an example that is an instant.
func checkInstants(root string, folders ...string) error {
	var faults []error
	files := token.NewFileSet()
	for _, folder := range folders {
		err := filepath.WalkDir(filepath.Join(root, folder), func(path string, entry fs.DirEntry, err error) error {
			if err != nil || entry.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			file, err := parser.ParseFile(files, path, nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			ast.Inspect(file, func(node ast.Node) bool {
				if field, ok := node.(*ast.Field); ok && isTime(field.Type) && isBareJSON(field.Tag) {
					faults = append(faults, fmt.Errorf(`%s: a time.Time in JSON: add format:"date-time" or an `+
						`example such as "2026-11-20T18:04:00+01:00" to its tag`, files.Position(field.Pos())))
				}
				return true
			})
			return nil
		})
		if err != nil {
			return fmt.Errorf("reading %s: %w", folder, err)
		}
	}
	return errors.Join(faults...)
}

func isTime(expr ast.Expr) bool {
	switch expr := expr.(type) {
	case *ast.StarExpr:
		return isTime(expr.X)
	case *ast.ArrayType:
		return isTime(expr.Elt)
	case *ast.SelectorExpr:
		pkg, ok := expr.X.(*ast.Ident)
		return ok && pkg.Name == "time" && expr.Sel.Name == "Time"
	}
	return false
}

// isBareJSON tells whether a field is written to JSON without saying that it is an instant. A field without a
// json tag belongs to no request or answer.
func isBareJSON(tag *ast.BasicLit) bool {
	if tag == nil {
		return false
	}
	text, err := strconv.Unquote(tag.Value)
	if err != nil {
		return false
	}
	keys := reflect.StructTag(text)
	if name, ok := keys.Lookup("json"); !ok || name == "-" {
		return false
	}
	_, err = time.Parse(time.RFC3339, keys.Get("example"))
	return keys.Get("format") != "date-time" && err != nil
}

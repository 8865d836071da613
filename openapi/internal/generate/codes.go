package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// A codeList is the constants of one kind, by the name of their type or by how their own names begin.
type codeList struct {
	title, folder, typed, prefix string
}

var codeLists = []codeList{
	{title: "Problems", folder: "domain", typed: "Code"},
	{title: "Flags of offsets, latencies and measurements", folder: "domain/estimate", prefix: "Flag"},
	{title: "Likely causes of doubtful measurements", folder: "domain/estimate", prefix: "Cause"},
	{title: "States of a plan", folder: "domain/plan", typed: "State"},
	{title: "Verdicts on a pair", folder: "domain/law", typed: "Verdict"},
	{title: "Roles of a pair", folder: "domain/plan", typed: "Role"},
	{title: "States of a clip", folder: "domain/service", typed: "ClipState"},
	{title: "Flags of a recording", folder: "domain/recording", typed: "Flag"},
	{title: "Why a recording gives no number", folder: "domain/recording", typed: "RefusalCode"},
	{title: "Reasons for a setting", folder: "domain/plan", typed: "WhyCode"},
	{title: "Advice", folder: "domain/plan", typed: "AdviceCode"},
	{title: "Advice of a book", folder: "domain/service", typed: "AdviceCode"},
	{title: "Bottlenecks", folder: "domain/plan", typed: "BottleneckKind"},
	{title: "Uses of a file of the card", folder: "domain/card", typed: "Use"},
	{title: "Alternatives", folder: "domain/plan", typed: "ChangeKind"},
}

// A code is a word of the API and what it means.
type code struct{ word, meaning string }

// addCodes appends the codes, with the comments of their constants, to the description of a Swagger document.
func addCodes(root string, swagger []byte) ([]byte, error) {
	var document map[string]any
	if err := json.Unmarshal(swagger, &document); err != nil {
		return nil, err
	}
	info, _ := document["info"].(map[string]any)
	if info == nil {
		return nil, errors.New("the document has no info")
	}
	var text strings.Builder
	fmt.Fprintf(&text, "%v\n\n# Codes\n", info["description"])
	for _, list := range codeLists {
		codes, err := list.read(root)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&text, "\n**%s**\n\n", list.title)
		for _, c := range codes {
			fmt.Fprintf(&text, "- `%s`: %s\n", c.word, c.meaning)
		}
	}
	info["description"] = text.String()
	return json.Marshal(document)
}

// read finds the constants of a list in the order of the source. One without a comment is an error.
func (l codeList) read(root string) ([]code, error) {
	paths, err := filepath.Glob(filepath.Join(root, filepath.FromSlash(l.folder), "*.go"))
	if err != nil {
		return nil, err
	}
	var out []code
	files := token.NewFileSet()
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		source, err := os.ReadFile(path)
		if err != nil {
			return nil, err
		}
		file, err := parser.ParseFile(files, path, source, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		for _, declared := range file.Decls {
			group, ok := declared.(*ast.GenDecl)
			if !ok || group.Tok != token.CONST {
				continue
			}
			for _, spec := range group.Specs {
				spec := spec.(*ast.ValueSpec)
				if !l.holds(spec) {
					continue
				}
				c, err := readCode(spec, group)
				if err != nil {
					return nil, fmt.Errorf("%s: %w", files.Position(spec.Pos()), err)
				}
				out = append(out, c)
			}
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%s: no codes of %s%s: correct the list in codes.go", l.folder, l.typed, l.prefix)
	}
	return out, nil
}

func (l codeList) holds(spec *ast.ValueSpec) bool {
	if l.prefix != "" {
		return strings.HasPrefix(spec.Names[0].Name, l.prefix)
	}
	switch typed := spec.Type.(type) {
	case *ast.Ident:
		return typed.Name == l.typed
	case *ast.SelectorExpr:
		return typed.Sel.Name == l.typed
	}
	return false
}

func readCode(spec *ast.ValueSpec, group *ast.GenDecl) (code, error) {
	name := spec.Names[0].Name
	literal, ok := spec.Values[0].(*ast.BasicLit)
	if !ok {
		return code{}, fmt.Errorf("%s: a code is a plain string", name)
	}
	word, err := strconv.Unquote(literal.Value)
	if err != nil {
		return code{}, err
	}
	meaning := strings.TrimSpace(spec.Comment.Text())
	if meaning == "" && !group.Lparen.IsValid() {
		meaning = strings.TrimSuffix(strings.TrimPrefix(strings.TrimSpace(group.Doc.Text()), name+" says that "), ".")
	}
	if meaning == "" {
		return code{}, fmt.Errorf("%s: say in a comment behind it what the code means", name)
	}
	return code{word, strings.Join(strings.Fields(meaning), " ")}, nil
}

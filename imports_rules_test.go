package delaybook_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path"
	"slices"
	"strconv"
	"strings"
)

const module = "delaybook"

// A source is one Go file of the module: its path from the root, with slashes, and what the rules look at.
type source struct {
	path    string
	imports []string
	uses    []string // selectors on imported packages, such as "time.Now" or "math/rand/v2.IntN"
}

func (s source) dir() string  { return path.Dir(s.path) }
func (s source) isTest() bool { return strings.HasSuffix(s.path, "_test.go") }

// in tells whether the file is in one of the folders or below it.
func (s source) in(folders ...string) bool {
	return slices.ContainsFunc(folders, func(folder string) bool { return within(s.dir(), folder) })
}

// isPure tells whether the file is in a package that computes only: each folder below domain but those that know
// the words (book and exchange hold facts, service the use cases).
func (s source) isPure() bool {
	return strings.HasPrefix(s.path, "domain/") && s.dir() != "domain" && !s.in("domain/service", "domain/book", "domain/exchange")
}

// within tells whether name is root or below it, for folders and import paths alike.
func within(name, root string) bool { return name == root || strings.HasPrefix(name, root+"/") }

// ours answers the folder of an import of this module.
func ours(imported string) (folder string, ok bool) { return strings.CutPrefix(imported, module+"/") }

func isStandard(imported string) bool {
	first, _, _ := strings.Cut(imported, "/")
	return !strings.Contains(first, ".") && first != module
}

func parseSource(name, text string) (source, error) {
	file, err := parser.ParseFile(token.NewFileSet(), name, text, parser.SkipObjectResolution)
	if err != nil {
		return source{}, err
	}
	s := source{path: name}
	byName := map[string]string{}
	for _, spec := range file.Imports {
		imported, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			return source{}, err
		}
		s.imports = append(s.imports, imported)
		local := path.Base(strings.TrimSuffix(imported, "/v2"))
		if spec.Name != nil {
			local = spec.Name.Name
		}
		byName[local] = imported
	}
	ast.Inspect(file, func(node ast.Node) bool {
		if selector, ok := node.(*ast.SelectorExpr); ok {
			if ident, ok := selector.X.(*ast.Ident); ok && byName[ident.Name] != "" {
				s.uses = append(s.uses, byName[ident.Name]+"."+selector.Sel.Name)
			}
		}
		return true
	})
	return s, nil
}

// A rule says which imports or uses a file must not have. Exactly one of imports and uses is set; it answers
// whether the file breaks the rule with that import or selector.
type rule struct {
	name, instead string
	imports, uses func(s source, what string) bool
}

// rules are the directions of the import picture in DEVELOPERS.md.
var rules = []rule{
	{
		name: "the domain knows no transport and no storage", instead: "declare an interface where it is used",
		imports: func(s source, imported string) bool {
			folder, own := ours(imported)
			return s.in("domain") && (own && !within(folder, "domain") || imported == "net/http" ||
				within(imported, "github.com/labstack") || within(imported, "github.com/jackc"))
		},
	},
	{
		name: "pure packages compute only", instead: "pass the value in; the service does the reading and writing",
		imports: func(s source, imported string) bool {
			return s.isPure() && !s.isTest() && isStandard(imported) && slices.ContainsFunc(
				[]string{"os", "net", "log", "database", "syscall", "crypto/rand", "math/rand"},
				func(root string) bool { return within(imported, root) && imported != "math/rand/v2" })
		},
	},
	{
		name: "pure packages need the standard library and gonum", instead: "keep the library in the package that reads the file",
		imports: func(s source, imported string) bool {
			_, own := ours(imported)
			return s.isPure() && !s.isTest() && !own && !isStandard(imported) && !within(imported, "gonum.org/v1/gonum")
		},
	},
	{
		name: "pure packages know no words and no use cases", instead: "let domain/service convert",
		imports: func(s source, imported string) bool {
			folder, own := ours(imported)
			return s.isPure() && own && (folder == "domain" || within(folder, "domain/service"))
		},
	},
	{
		name: "the words know no use cases", instead: "move what both need into domain",
		imports: func(s source, imported string) bool {
			folder, own := ours(imported)
			return s.dir() == "domain" && own && within(folder, "domain/service")
		},
	},
	{
		name: "randomness is seeded", instead: "take a *rand.Rand made from a PCG with a seed",
		uses: func(s source, used string) bool {
			function, ok := strings.CutPrefix(used, "math/rand/v2.")
			seeded := []string{"New", "NewPCG", "NewChaCha8", "NewZipf", "Rand", "Source", "PCG", "ChaCha8", "Zipf"}
			return s.in("domain") && ok && !slices.Contains(seeded, function)
		},
	},
	{
		name: "only cmd reads the clock and the environment", instead: "take it as a parameter",
		uses: func(s source, used string) bool {
			reads := []string{
				"time.Now", "time.Since", "time.Until",
				"os.Getenv", "os.LookupEnv", "os.Environ", "os.ExpandEnv",
			}
			return slices.Contains(reads, used) && !s.isTest() && !s.in("cmd", "db/dbtest", "db/pglaunch")
		},
	},
	importers("only cmd knows the handlers", "api", nil, "cmd", "api"),
	importers("only cmd knows the stores", "db", []string{"api", "migrations"}, "cmd", "db"),
	importers("nothing imports a program", "cmd", nil, "cmd"),
	{
		name: "only programs and database tests migrate", instead: "take the *pgxpool.Pool of a migrated database",
		imports: func(s source, imported string) bool {
			folder, own := ours(imported)
			mayMigrate := s.in("cmd", "migrations", "db/dbtest") || s.in("db", "api") && s.isTest()
			return own && within(folder, "migrations") && !mayMigrate
		},
	},
	{
		name: "test support stays in tests", instead: "move what the program needs out of it",
		imports: func(s source, imported string) bool {
			folder, own := ours(imported)
			support := []string{
				"db/dbtest", "openapi/contract", "cmd/internal/decoder/decodertest", "cmd/internal/analyst/cardtest",
				"domain/tracks/tracktest", "domain/clip/camera",
			}
			return own && slices.Contains(support, folder) && !s.isTest() && s.dir() != folder
		},
	},
	{
		name: "only delaybook-decode is under the GPL", instead: "start that program, and talk to it over pipes",
		imports: func(s source, imported string) bool {
			under := within(imported, "codeberg.org/gruf/go-ffmpreg") || within(imported, "github.com/tetratelabs/wazero")
			return under && s.dir() != "cmd/delaybook-decode"
		},
	},
	{
		name: "the document stands alone", instead: "import openapi, not the other way round",
		imports: func(s source, imported string) bool {
			folder, own := ours(imported)
			return s.in("openapi", "migrations") && own && !s.isTest() && !within(folder, "openapi") && !within(folder, "migrations")
		},
	},
}

// importers is the rule that only files in or below the folders allowed import what is in or below target. Tests
// in testers may, because they run on the real thing.
func importers(name, target string, testers []string, allowed ...string) rule {
	return rule{
		name: name, instead: "let cmd join the two",
		imports: func(s source, imported string) bool {
			folder, own := ours(imported)
			return own && within(folder, target) && !s.in(allowed...) && !(s.isTest() && s.in(testers...))
		},
	}
}

// A breach is one import or use that a rule forbids.
type breach struct{ rule, text string }

func breaches(files []source) []breach {
	var all []breach
	for _, file := range files {
		for _, r := range rules {
			looked, forbids := file.imports, r.imports
			if r.uses != nil {
				looked, forbids = file.uses, r.uses
			}
			for _, what := range looked {
				if forbids(file, what) {
					text := fmt.Sprintf("%s: %s: %s, so %s", file.path, what, r.name, r.instead)
					all = append(all, breach{r.name, text})
				}
			}
		}
	}
	return all
}

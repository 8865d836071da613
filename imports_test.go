// Package delaybook_test holds the checks that concern the whole module: which way imports point, and the container
// set-up.
package delaybook_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestImportsPointOneWay(t *testing.T) {
	t.Parallel()
	files := readTree(t, ".")
	// A walk that misses folders would pass for ever.
	for _, folder := range []string{"cmd/delaybook", "openapi", "openapi/contract"} {
		if !slices.ContainsFunc(files, func(s source) bool { return s.dir() == folder }) {
			t.Errorf("no file of %s was read", folder)
		}
	}
	for _, b := range breaches(files) {
		t.Error(b.text)
	}
}

func readTree(tb testing.TB, root string) []source {
	tb.Helper()
	var files []source
	err := filepath.WalkDir(root, func(name string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		base := entry.Name()
		if entry.IsDir() && name != root && (base == "testdata" || strings.HasPrefix(base, ".") || strings.HasPrefix(base, "_")) {
			return filepath.SkipDir
		}
		if entry.IsDir() || filepath.Ext(base) != ".go" {
			return nil
		}
		text, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		slashed, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		s, err := parseSource(filepath.ToSlash(slashed), string(text))
		files = append(files, s)
		return err
	})
	if err != nil {
		tb.Fatal(err)
	}
	return files
}

// Each rule has files that break it and files beside the line that do not.
var samples = []struct{ path, text, breaks string }{
	{"domain/rig.go", `import "delaybook/api"`, "the domain knows no transport and no storage"},
	{"domain/rig.go", `import "net/http"`, "the domain knows no transport and no storage"},
	{"domain/rig_test.go", `import "github.com/labstack/echo/v4"`, "the domain knows no transport and no storage"},
	{"domain/service/book.go", `import "github.com/jackc/pgx/v5"`, "the domain knows no transport and no storage"},
	{"domain/plan/plan.go", `import "delaybook/openapi"`, "the domain knows no transport and no storage"},
	{"domain/service/book.go", `import ("log/slog"; "os"; "delaybook/domain"; "delaybook/domain/plan"; "github.com/google/uuid")`, ""},

	{"domain/plan/plan.go", `import "os"`, "pure packages compute only"},
	{"domain/plan/plan.go", `import "net/netip"`, "pure packages compute only"},
	{"domain/adjust/solve.go", `import "log/slog"`, "pure packages compute only"},
	{"domain/adjust/solve.go", `import "log"`, "pure packages compute only"},
	{"domain/bookfile/read.go", `import "database/sql"`, "pure packages compute only"},
	{"domain/estimate/a/b.go", `import "crypto/rand"`, "pure packages compute only"},
	{"domain/estimate/mean.go", `import "math/rand"`, "pure packages compute only"},
	{"domain/plan/plan.go", `import ("io"; "math/big"; "math/rand/v2"; "net2/x"; "time"; "gonum.org/v1/gonum/mat"; "delaybook/domain/timebase")`, ""},
	{"domain/plan/plan_test.go", `import ("os"; "github.com/google/go-cmp/cmp")`, ""},

	{"domain/plan/plan.go", `import "github.com/google/uuid"`, "pure packages need the standard library and gonum"},
	{"domain/plan/plan.go", `import "gonum.org/v1/plot"`, "pure packages need the standard library and gonum"},

	{"domain/plan/plan.go", `import "delaybook/domain"`, "pure packages know no words and no use cases"},
	{"domain/plan/plan_test.go", `import "delaybook/domain/service"`, "pure packages know no words and no use cases"},

	{"domain/rig.go", `import "delaybook/domain/service"`, "the words know no use cases"},
	{"domain/rig.go", `import "delaybook/domain/timebase"`, ""},

	{"domain/estimate/sim_test.go", `import "math/rand/v2"; var _ = rand.IntN(6)`, "randomness is seeded"},
	{"domain/estimate/sim_test.go", `import r "math/rand/v2"; var _ = r.NormFloat64()`, "randomness is seeded"},
	{"domain/estimate/sim_test.go", `import "math/rand/v2"; var _ = rand.New(rand.NewPCG(1, 2)).IntN(6)`, ""},

	{"domain/service/book.go", `import "time"; var _ = time.Now()`, "only cmd reads the clock and the environment"},
	{"api/server.go", `import clock "time"; var now = clock.Now`, "only cmd reads the clock and the environment"},
	{"db/store.go", `import "time"; var _ = time.Since(time.Time{})`, "only cmd reads the clock and the environment"},
	{"db/store.go", `import "os"; var _ = os.Getenv("X")`, "only cmd reads the clock and the environment"},
	{"migrations/up.go", `import "os"; var _, _ = os.LookupEnv("X")`, "only cmd reads the clock and the environment"},
	{"cmd/delaybook/main.go", `import ("os"; "time"); var _, _ = time.Now(), os.Getenv("X")`, ""},
	{"db/dbtest/dbtest.go", `import "os"; var _ = os.Getenv("X")`, ""},
	{"db/pglaunch/start.go", `import "time"; var _ = time.Now()`, ""},
	{"api/server_test.go", `import "time"; var _ = time.Now()`, ""},
	{"api/server.go", `type c struct{ Now func() int }; func f(time c) int { return time.Now() }`, ""},

	{"db/store.go", `import "delaybook/api"`, "only cmd knows the handlers"},
	{"db/store_test.go", `import "delaybook/api/web"`, "only cmd knows the handlers"},
	{"whole_test.go", `import "delaybook/api"`, "only cmd knows the handlers"},
	{"api/server.go", `import "delaybook/db"`, "only cmd knows the stores"},
	{"domain/service/open_test.go", `import "delaybook/db/dbtest"`, "only cmd knows the stores"},
	{"cmd/delaybook/serve.go", `import ("delaybook/api"; "delaybook/db"; "delaybook/db/pglaunch"; "delaybook/migrations")`, ""},
	{"api/server.go", `import ("delaybook/api/web"; "delaybook/domain/service"; "delaybook/openapi"; "net/http")`, ""},
	{"db/rigs.go", `import ("delaybook/domain"; "delaybook/domain/service"; "github.com/jackc/pgx/v5")`, ""},

	{"api/server.go", `import "delaybook/cmd/delaybook"`, "nothing imports a program"},

	{"api/server.go", `import "delaybook/migrations"`, "only programs and database tests migrate"},
	{"db/store.go", `import "delaybook/migrations"`, "only programs and database tests migrate"},
	{"db/store_test.go", `import "delaybook/migrations"`, ""},
	{"db/dbtest/dbtest.go", `import "delaybook/migrations"`, ""},

	{"cmd/delaybook/main.go", `import "delaybook/db/dbtest"`, "test support stays in tests"},
	{"api/server.go", `import "delaybook/openapi/contract"`, "test support stays in tests"},
	{"domain/clip/clip.go", `import "delaybook/domain/clip/camera"`, "test support stays in tests"},
	{"api/server_test.go", `import "delaybook/openapi/contract"`, ""},
	{"cmd/delaybook/main_test.go", `import "delaybook/db/dbtest"`, ""},

	{"cmd/delaybook/serve.go", `import "delaybook/cmd/internal/decoder/decodertest"`, "test support stays in tests"},

	{"cmd/delaybook/serve.go", `import "codeberg.org/gruf/go-ffmpreg/wasm"`, "only delaybook-decode is under the GPL"},
	{"cmd/internal/decoder/run.go", `import "github.com/tetratelabs/wazero"`, "only delaybook-decode is under the GPL"},
	{"cmd/delaybook-decode/main.go", `import ("codeberg.org/gruf/go-ffmpreg/embed"; "github.com/tetratelabs/wazero")`, ""},

	{"openapi/docs.go", `import "delaybook/domain"`, "the document stands alone"},
	{"migrations/up.go", `import "delaybook/domain/service"`, "the document stands alone"},
}

func TestEachImportRuleCatchesAFileThatBreaksIt(t *testing.T) {
	t.Parallel()
	caught := map[string]bool{}
	for _, sample := range samples {
		s, err := parseSource(sample.path, "package p\n"+sample.text)
		if err != nil {
			t.Fatalf("%s: %v", sample.text, err)
		}
		found := breaches([]source{s})
		named := func(b breach) bool { return b.rule == sample.breaks }
		if sample.breaks == "" && len(found) > 0 {
			t.Errorf("%s with %s breaks %q, want nothing", sample.path, sample.text, found)
		}
		if sample.breaks != "" && !slices.ContainsFunc(found, named) {
			t.Errorf("%s with %s breaks %q, want %q", sample.path, sample.text, found, sample.breaks)
		}
		for _, b := range found {
			caught[b.rule] = true
		}
	}
	for _, r := range rules {
		if !caught[r.name] {
			t.Errorf("no sample breaks the rule %q", r.name)
		}
	}
}

// The same through the file system: a tree in which one file breaks a rule is found out, and what is no part of the
// module is not read.
func TestTreeWithABreach(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	const bad = "package p\n\nimport _ \"delaybook/db\"\n"
	for _, name := range []string{"api/web/page.go", "api/testdata/x.go", ".ci/x.go", "_old/x.go"} {
		name = filepath.Join(root, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(bad), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	found := breaches(readTree(t, root))
	if len(found) != 1 || !strings.HasPrefix(found[0].text, "api/web/page.go: delaybook/db: only cmd knows the stores") {
		t.Errorf("found %q, want the one breach in api/web/page.go", found)
	}
}

package pglaunch_test

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"delaybook/db/pglaunch"
)

// programsFolder is the folder of the programs that the tests run.
func programsFolder(ctx context.Context) (string, error) {
	for _, dir := range pglaunch.UsualPlaces(ctx) {
		if _, err := os.Stat(filepath.Join(dir, "initdb")); err == nil {
			return dir, nil
		}
	}
	return "", errors.New("no PostgreSQL server programs on this machine")
}

func installedPrograms(tb testing.TB) string {
	tb.Helper()
	dir, err := programsFolder(tb.Context())
	if err != nil {
		tb.Fatal(err)
	}
	return dir
}

// installedMajor asks for their version in another way than the package does.
func installedMajor(tb testing.TB) string {
	tb.Helper()
	out, err := exec.Command(filepath.Join(installedPrograms(tb), "initdb"), "--version").Output()
	if err != nil {
		tb.Fatal(err)
	}
	return regexp.MustCompile(`\d+`).FindString(string(out))
}

// fakePrograms answer --version and do nothing else.
func fakePrograms(tb testing.TB, major int) string {
	tb.Helper()
	dir := filepath.Join(openFolder(tb), fmt.Sprintf("pg-%d", major), "bin")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		tb.Fatal(err)
	}
	script := fmt.Sprintf("#!/bin/sh\n[ \"$1\" = --version ] && echo 'postgres (PostgreSQL) %d.3 (fake)'\n", major)
	for _, name := range []string{"postgres", "initdb"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(script), 0o755); err != nil {
			tb.Fatal(err)
		}
	}
	return dir
}

func only(dirs ...string) func(context.Context) []string {
	return func(context.Context) []string { return dirs }
}

func TestNoPrograms(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	opts.Search = only(t.TempDir(), filepath.Join(t.TempDir(), "none"))
	_, err := pglaunch.Start(t.Context(), opts)
	if _, ok := errors.AsType[*pglaunch.NoProgramsError](err); !ok {
		t.Fatalf("Start = %v, want a NoProgramsError", err)
	}
	for _, want := range []string{
		"no PostgreSQL server programs found; set DATABASE_URL, or install them (Debian/Ubuntu: apt-get install postgresql; ",
		"or name their folder in PG_BINDIR",
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q does not say %q", err, want)
		}
	}

	opts.Search, opts.BinDir = nil, t.TempDir()
	_, err = pglaunch.Start(t.Context(), opts)
	if missing, ok := errors.AsType[*pglaunch.NoProgramsError](err); !ok || missing.BinDir != opts.BinDir {
		t.Errorf("with an empty BinDir: %v, want a NoProgramsError that names it", err)
	}
}

// The cluster decides which programs are right; a newer or broken one that is
// found first does not matter.
func TestProgramsOfTheClustersVersionAreChosen(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	opts.Search = only(installedPrograms(t))
	if err := mustStart(t, opts).Stop(); err != nil {
		t.Fatal(err)
	}
	broken := fakePrograms(t, 1)
	if err := os.WriteFile(filepath.Join(broken, "postgres"), []byte("#!/bin/sh\nexit 3\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	opts.Search = only(broken, fakePrograms(t, 99), installedPrograms(t))
	mustStart(t, opts)
}

func TestBrokenProgramsSayWhy(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	opts.BinDir = fakePrograms(t, 16)
	script := "#!/bin/sh\necho 'cannot open libssl' >&2\nexit 127\n"
	if err := os.WriteFile(filepath.Join(opts.BinDir, "postgres"), []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	_, err := pglaunch.Start(t.Context(), opts)
	if failed, ok := errors.AsType[*pglaunch.ServerError](err); !ok || failed.Log != "cannot open libssl" {
		t.Errorf("Start = %v, want a ServerError with the program's words", err)
	}
}

func TestFailedInitdbSaysWhy(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	opts.BinDir = fakePrograms(t, 16)
	script := "#!/bin/sh\necho 'initdb: error: could not look up effective user ID 54321: user does not exist' >&2\nexit 1\n"
	if err := os.WriteFile(filepath.Join(opts.BinDir, "initdb"), []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	_, err := pglaunch.Start(t.Context(), opts)
	if failed, ok := errors.AsType[*pglaunch.ServerError](err); !ok || !strings.Contains(failed.Log, "54321") {
		t.Fatalf("Start = %v, want a ServerError with initdb's words", err)
	}
	if !strings.Contains(err.Error(), "docker run --user") {
		t.Errorf("%q gives no hint about users that the system does not list", err)
	}
	if _, err := os.Stat(filepath.Join(opts.Dir, "data")); !os.IsNotExist(err) {
		t.Errorf("a failed initdb left a cluster: %v", err)
	}
}

func TestVersionMismatchTouchesNothing(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		data   string
		found  int
		want   []string
		absent string
	}{
		"newer programs": {
			data: "13", found: 15,
			want: []string{"made by PostgreSQL 13", "are 15 in ", "apt-get install postgresql-13", "pg_upgrade -U app -b "},
		},
		"older programs": {
			data: "17", found: 15,
			want:   []string{"made by PostgreSQL 17", "are 15 in ", "apt-get install postgresql-17", "cannot be moved to an older version"},
			absent: "pg_upgrade",
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(openFolder(t), "book")
			writeCluster(t, dir, map[string]string{"data/PG_VERSION": c.data + "\n", "data/precious": "keep me", "password": "secret\n"})
			before := listing(t, dir)
			_, err := pglaunch.Start(t.Context(), pglaunch.Options{Dir: dir, Search: only(fakePrograms(t, c.found))})
			if mismatch, ok := errors.AsType[*pglaunch.VersionError](err); !ok || fmt.Sprint(mismatch.Data) != c.data || mismatch.Found[0].Major != c.found {
				t.Fatalf("Start = %v, want a VersionError with both versions", err)
			}
			for _, want := range c.want {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("the message does not say %q:\n%v", want, err)
				}
			}
			if c.absent != "" && strings.Contains(err.Error(), c.absent) {
				t.Errorf("the message says %q:\n%v", c.absent, err)
			}
			if diff := cmp.Diff(before, listing(t, dir)); diff != "" {
				t.Errorf("the refused start changed the folder (-before +after):\n%s", diff)
			}
		})
	}
}

// listing is every file below dir with mode, owner's view of time, and content.
func listing(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		entry := info.Mode().String()
		if info.Mode().IsRegular() {
			content, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			entry += " " + string(content)
		}
		if path != dir { // its mode is opened to the server's user
			files[path] = entry
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

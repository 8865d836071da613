package pglaunch_test

import (
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"delaybook/db/pglaunch"
)

// fetchOptions hide the machine's programs.
func fetchOptions(t *testing.T, address string) pglaunch.Options {
	t.Helper()
	opts := volatileOptions(t)
	opts.Search = only()
	opts.Fetch = &pglaunch.Fetch{
		Repository: address,
		CacheDir:   filepath.Join(openFolder(t), "cache"),
		Major:      mustInt(t, installedMajor(t)),
	}
	return opts
}

func mustInt(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func TestFetchedProgramsRunAnExistingCluster(t *testing.T) {
	t.Parallel()
	archive, err := programArchive()
	if err != nil {
		t.Fatal(err)
	}
	repo, address := serveArchive(t, archive)
	opts := fetchOptions(t, address)

	local := opts
	local.Search, local.Fetch = nil, nil
	c := mustStart(t, local)
	mustExec(t, c.URL(""), `CREATE TABLE kept (word text); INSERT INTO kept VALUES ('still here')`)
	if err := c.Stop(); err != nil {
		t.Fatal(err)
	}
	precious := filepath.Join(opts.Dir, "data", "precious")
	if err := os.WriteFile(precious, nil, 0o600); err != nil {
		t.Fatal(err)
	}

	opts.Fetch.Major = 0 // the cluster decides
	fetched := mustStart(t, opts)
	version := pglaunch.FetchableVersion(mustInt(t, installedMajor(t)))
	if got := mustText(t, fetched.URL(""), `SELECT setting FROM pg_config WHERE name = 'BINDIR'`); !strings.HasPrefix(got, opts.Fetch.CacheDir) || !strings.Contains(got, version) {
		t.Errorf("the server's programs are in %s, want them in the cache %s", got, opts.Fetch.CacheDir)
	}
	if got := mustText(t, fetched.URL(""), `SELECT word FROM kept`); got != "still here" {
		t.Errorf("the table holds %q", got)
	}
	if _, err := os.Stat(precious); err != nil {
		t.Errorf("the cluster was replaced: %v", err)
	}
	if err := fetched.Stop(); err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(opts.Fetch.CacheDir)
	if err != nil || len(entries) != 1 {
		t.Errorf("the cache holds %v (%v), want one folder of programs", entries, err)
	}

	// The second time nothing is fetched; a new cluster needs initdb, too.
	before := repo.requests.Load()
	fresh := opts
	fresh.Dir = filepath.Join(openFolder(t), "fresh")
	mustStart(t, fresh)
	if n := repo.requests.Load() - before; n != 0 {
		t.Errorf("%d requests for programs that are in the cache", n)
	}
}

// Whatever comes from the repository, an existing cluster is left alone.
func TestFetchThatFails(t *testing.T) {
	t.Parallel()
	whole, err := programArchive()
	if err != nil {
		t.Fatal(err)
	}
	broken, err := zipped([]byte("this is not an archive"))
	if err != nil {
		t.Fatal(err)
	}
	cut, err := brokenOff()
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		archive  []byte
		checksum string
		want     string
	}{
		"nothing there":             {nil, "", "no version found matching 13"},
		"programs of another kind":  {whole, "", "holds programs of version " + installedMajor(t)},
		"broken archive":            {broken, "", "unable to extract"},
		"half an archive":           {whole[:len(whole)/2], "", "zip: not a valid zip file"},
		"programs without the rest": {cut, "", "unable to extract"},
		"wrong checksum":            {whole, "00", "checksums do not match"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			repo, address := serveArchive(t, c.archive)
			if c.checksum != "" {
				repo.checksum = c.checksum
			}
			opts := fetchOptions(t, address)
			opts.Volatile = false
			writeCluster(t, opts.Dir, map[string]string{"data/PG_VERSION": "13\n", "data/precious": "keep me", "password": "secret\n"})
			before := listing(t, opts.Dir)
			_, err := pglaunch.Start(t.Context(), opts)
			if missing, ok := errors.AsType[*pglaunch.NoProgramsError](err); !ok || missing.Fetch == nil {
				t.Fatalf("Start = %v, want a NoProgramsError with the reason", err)
			}
			if !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "set DATABASE_URL") {
				t.Errorf("%q does not say %q and what to do", err, c.want)
			}
			if diff := cmp.Diff(before, listing(t, opts.Dir)); diff != "" {
				t.Errorf("the data folder changed (-before +after):\n%s", diff)
			}
			if entries, err := os.ReadDir(opts.Fetch.CacheDir); err != nil || len(entries) > 0 {
				t.Errorf("the cache holds %v (%v), want nothing", entries, err)
			}
		})
	}
}

// The library would make a cluster of its own, and replace one it does not
// like, by running initdb.
func TestFetchRunsNothing(t *testing.T) {
	t.Parallel()
	ran := filepath.Join(openFolder(t), "initdb-ran")
	script := "#!/bin/sh\n[ \"$1\" = --version ] && echo 'postgres (PostgreSQL) 13.1' && exit\n"
	packed, err := tarXz([]archived{
		{name: "bin/postgres", content: []byte(script + "echo 'this is only a script' >&2\nexit 1\n")},
		{name: "bin/initdb", content: []byte(script + "touch '" + ran + "'\n")},
	})
	if err != nil {
		t.Fatal(err)
	}
	archive, err := zipped(packed)
	if err != nil {
		t.Fatal(err)
	}
	_, address := serveArchive(t, archive)
	opts := fetchOptions(t, address)
	opts.Volatile = false
	writeCluster(t, opts.Dir, map[string]string{"data/PG_VERSION": "13\n", "password": "secret\n"})
	_, err = pglaunch.Start(t.Context(), opts)
	if failed, ok := errors.AsType[*pglaunch.ServerError](err); !ok || failed.Log != "this is only a script" {
		t.Errorf("Start = %v, want the words of the fetched program", err)
	}
	if _, err := os.Stat(ran); err == nil {
		t.Error("fetching ran initdb")
	}
}

func TestUnsafeRepositoriesAreRefused(t *testing.T) {
	t.Parallel()
	for address, want := range map[string]string{
		"http://programs.example": "only https",
		"ftp://localhost":         "only https",
		"http://[::1":             "address of the repository",
	} {
		opts := fetchOptions(t, address)
		if _, err := pglaunch.Start(t.Context(), opts); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Start with %s = %v, want %q", address, err, want)
		}
	}
	opts := fetchOptions(t, "")
	opts.Fetch.CacheDir = ""
	if _, err := pglaunch.Start(t.Context(), opts); err == nil || !strings.Contains(err.Error(), "no cache folder") {
		t.Errorf("Start without a cache folder = %v", err)
	}
	opts = fetchOptions(t, "")
	opts.Fetch.Major = 9
	if _, err := pglaunch.Start(t.Context(), opts); err == nil || !strings.Contains(err.Error(), "no archive of PostgreSQL 9") {
		t.Errorf("Start for a version without an archive = %v", err)
	}
}

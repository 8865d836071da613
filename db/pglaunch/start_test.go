package pglaunch_test

import (
	"errors"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"delaybook/db/pglaunch"
)

func TestStart(t *testing.T) {
	t.Parallel()
	opts := pglaunch.Options{Dir: filepath.Join(openFolder(t), "book")}

	c := mustStart(t, opts)
	if !c.Owner() {
		t.Error("the process that started the server does not own it")
	}
	mustExec(t, c.URL(""), `CREATE TABLE kept (word text); INSERT INTO kept VALUES ('still here')`)

	for _, setting := range []struct{ name, want string }{
		{"fsync", "on"},
		{"full_page_writes", "on"},
		{"synchronous_commit", "on"},
		{"data_checksums", "on"},
		{"listen_addresses", ""},
		{"server_encoding", "UTF8"},
		{"lc_collate", "C"},
		{"password_encryption", "scram-sha-256"},
		{"TimeZone", "UTC"},
	} {
		if got := mustText(t, c.URL(""), `SELECT current_setting('`+setting.name+`')`); got != setting.want {
			t.Errorf("durable cluster: %s = %q, want %q", setting.name, got, setting.want)
		}
	}
	if got := mustText(t, c.URL(""), `SELECT string_agg(DISTINCT auth_method, ',') FROM pg_hba_file_rules`); got != "scram-sha-256" {
		t.Errorf("ways to log in: %s, want scram-sha-256 only", got)
	}
	if err := c.Stop(); err != nil {
		t.Fatalf("Stop: %v", err)
	}
	if err := c.Err(); err != nil {
		t.Errorf("Err after Stop: %v, want nil", err)
	}
	select {
	case <-c.Done():
	default:
		t.Error("Done is open after Stop")
	}

	again := mustStart(t, opts)
	if got := mustText(t, again.URL("delaybook"), `SELECT word FROM kept`); got != "still here" {
		t.Errorf("after a second start the table holds %q", got)
	}
	checkModes(t, opts.Dir)
}

// checkModes: the folder keeps its secrets from other users.
func checkModes(t *testing.T, dir string) {
	t.Helper()
	want := map[string]fs.FileMode{".": 0o700, "data": 0o700, "run": 0o700, "password": 0o600, "lock": 0o600, "postgres.log": 0o600}
	if os.Geteuid() == 0 {
		want["."] = 0o711 // the server runs as somebody else and passes through
	}
	got := map[string]fs.FileMode{}
	for name := range want {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		got[name] = info.Mode().Perm()
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("modes (-want +got):\n%s", diff)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != 5 {
		t.Errorf("the data folder holds %v, want data lock password postgres.log run", entries)
	}
}

func TestSecondStartIsRefusedAndAttachWorks(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	mustStart(t, opts)

	second := opts
	second.Program = "second"
	_, err := pglaunch.Start(t.Context(), second)
	owned, ok := errors.AsType[*pglaunch.OwnedError](err)
	if !ok {
		t.Fatalf("second Start: %v, want an OwnedError", err)
	}
	if diff := cmp.Diff(&pglaunch.OwnedError{Dir: opts.Dir, PID: os.Getpid(), Program: "first"}, owned); diff != "" {
		t.Errorf("OwnedError (-want +got):\n%s", diff)
	}

	c, err := pglaunch.Attach(t.Context(), second)
	if err != nil {
		t.Fatalf("Attach: %v", err)
	}
	if c.Owner() || c.Done() != nil || c.Err() != nil {
		t.Error("an attached Cluster claims to be the owner")
	}
	if err := c.Stop(); err != nil {
		t.Errorf("Stop of an attached Cluster: %v", err)
	}
	if got := mustText(t, c.URL("postgres"), `SELECT current_database()`); got != "postgres" {
		t.Errorf("URL(postgres) leads to %s", got)
	}
}

func TestAttachToNothing(t *testing.T) {
	t.Parallel()
	for name, dir := range map[string]string{
		"a folder that does not exist": filepath.Join(t.TempDir(), "none"),
		"an empty folder":              t.TempDir(),
	} {
		if _, err := pglaunch.Attach(t.Context(), pglaunch.Options{Dir: dir}); !errors.Is(err, pglaunch.ErrNotRunning) {
			t.Errorf("Attach to %s: %v, want ErrNotRunning", name, err)
		}
	}
}

func TestURLNamesTheSocket(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	opts.User, opts.Database = "crew & co", "delays?/all"
	c := mustStart(t, opts)
	if got := mustText(t, c.URL(""), `SELECT current_user || ' in ' || current_database()`); got != "crew & co in delays?/all" {
		t.Errorf("URL leads to %q", got)
	}
	u, err := url.Parse(c.URL(""))
	if err != nil {
		t.Fatal(err)
	}
	if u.Host != "" || u.Query().Get("host") != filepath.Join(opts.Dir, "run") {
		t.Errorf("URL %s does not name the socket folder", u.Redacted())
	}
	if password, _ := u.User.Password(); len(password) != 32 { // 24 bytes in base64
		t.Errorf("password of %d characters, want 32", len(password))
	}
}

// The path of a socket address holds some hundred bytes; clients split hosts
// at commas, and do not take a plus sign for a blank.
func TestAwkwardFolders(t *testing.T) {
	t.Parallel()
	for name, folder := range map[string]struct {
		part   string
		linked bool
	}{
		"long":           {strings.Repeat("very-", 28) + "long", true}, // 144 bytes
		"comma":          {"rigs, north", true},
		"blank and plus": {"rigs north+south %41", false},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			opts := volatileOptions(t)
			opts.Dir = filepath.Join(filepath.Dir(opts.Dir), folder.part)
			mustStart(t, opts)
			c, err := pglaunch.Attach(t.Context(), opts)
			if err != nil {
				t.Fatalf("Attach: %v", err)
			}
			if got := mustText(t, c.URL(""), `SELECT 'hello'`); got != "hello" {
				t.Errorf("got %q", got)
			}
			if _, err := os.Readlink(filepath.Join(opts.Dir, "run")); (err == nil) != folder.linked {
				t.Errorf("run is a link: %t, want %t", err == nil, folder.linked)
			}
		})
	}
}

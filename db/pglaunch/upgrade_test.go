package pglaunch_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"delaybook/db/pglaunch"
)

// The advice is run as it is printed. pg_upgrade accepts two clusters of one
// version, so that one installation is enough to try every command.
func TestUpgradeCommandsWork(t *testing.T) {
	t.Parallel()
	// A blank and a quote in the path: the commands are for a shell.
	opts := pglaunch.Options{Dir: filepath.Join(openFolder(t), "crew's book"), Volatile: true}
	c := mustStart(t, opts)
	mustExec(t, c.URL(""), `CREATE TABLE kept (word text); INSERT INTO kept VALUES ('still here')`)
	if err := c.Stop(); err != nil {
		t.Fatal(err)
	}
	major, err := strconv.Atoi(installedMajor(t))
	if err != nil {
		t.Fatal(err)
	}
	programs := pglaunch.Programs{Dir: installedPrograms(t), Major: major}
	commands, err := pglaunch.CommandsBetween(opts.Dir, programs, programs)
	if err != nil {
		t.Fatal(err)
	}
	script := strings.Join(commands, " &&\n")
	if out, err := exec.CommandContext(t.Context(), "sh", "-c", script).CombinedOutput(); err != nil {
		t.Fatalf("%s\n: %v\n%s", script, err, out)
	}
	old := filepath.Join(opts.Dir, "data."+strconv.Itoa(major))
	if _, err := os.Stat(filepath.Join(old, "PG_VERSION")); err != nil {
		t.Errorf("the old cluster was not kept: %v", err)
	}
	again := mustStart(t, opts)
	if got := mustText(t, again.URL(""), `SELECT word FROM kept`); got != "still here" {
		t.Errorf("after the upgrade the table holds %q", got)
	}
	if got := mustText(t, again.URL(""), `SELECT current_setting('data_checksums')`); got != "on" {
		t.Errorf("after the upgrade data_checksums = %s", got)
	}
}

func TestUpgradeCommandsNameBothInstallations(t *testing.T) {
	t.Parallel()
	for dir, want := range map[string]string{
		"/usr/lib/postgresql/15/bin":          "/usr/lib/postgresql/13/bin",
		"/opt/homebrew/opt/postgresql@15/bin": "/opt/homebrew/opt/postgresql@13/bin",
		"/usr/pgsql-15/bin":                   "/usr/pgsql-13/bin",
		"/opt/15/v15/15.4/bin":                "/opt/15/v15/13.4/bin",
		"/opt/database/bin":                   "/usr/lib/postgresql/13/bin",
	} {
		if got := pglaunch.SiblingDir(pglaunch.Programs{Dir: dir, Major: 15}, 13); got != want {
			t.Errorf("programs of 13, when those of 15 are in %s: %s, want %s", dir, got, want)
		}
	}
}

package dbtest_test

import (
	"bufio"
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"delaybook/db/dbtest"
)

// This file runs the test binary again, as a run that is killed, that has no
// programs, and so on. TestChild is what such a run does.
const childVariable = "DBTEST_CHILD"

func TestChild(t *testing.T) {
	mode := os.Getenv(childVariable)
	if mode == "" {
		return // an ordinary run: the tests below call this in another process
	}
	u, err := url.Parse(dbtest.New(t))
	if err != nil {
		t.Fatal(err)
	}
	fmt.Printf("folder %s\n", filepath.Dir(u.Query().Get("host")))
	if mode == "hold" {
		select {} // until it is killed
	}
}

// child prepares a run of TestChild with more environment.
func child(t *testing.T, mode string, env ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), self, "-test.run=^TestChild$", "-test.v")
	cmd.Env = append(os.Environ(), append(env, childVariable+"="+mode)...)
	return cmd
}

func TestKilledRunLeavesNothing(t *testing.T) {
	t.Parallel()
	killed := child(t, "hold", "TEST_DATABASE_URL=")
	out, err := killed.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := killed.Start(); err != nil {
		t.Fatal(err)
	}
	var folder string
	for lines := bufio.NewScanner(out); folder == "" && lines.Scan(); {
		folder, _ = strings.CutPrefix(lines.Text(), "folder ")
		if folder == lines.Text() {
			folder = ""
		}
	}
	if folder == "" {
		t.Fatal("the child did not start a server")
	}
	if err := killed.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = killed.Wait() // it says "killed"
	// Whichever run starts next clears up; here it is ours at the latest.
	if out, err := child(t, "once", "TEST_DATABASE_URL=").CombinedOutput(); err != nil {
		t.Fatalf("next run: %v\n%s", err, out)
	}
	if _, err := os.Stat(folder); !os.IsNotExist(err) {
		t.Errorf("the next run left the folder of the killed one: %v", err)
	}
	deadline, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	for serverIn(t, folder) {
		select {
		case <-deadline.Done():
			t.Fatal("the server outlived its run")
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// serverIn looks for a process that works in the folder, removed or not.
func serverIn(t *testing.T, folder string) bool {
	t.Helper()
	links, err := filepath.Glob("/proc/[0-9]*/cwd")
	if err != nil {
		t.Fatal(err)
	}
	for _, link := range links {
		if cwd, err := os.Readlink(link); err == nil && strings.HasPrefix(cwd, folder+"/") {
			return true
		}
	}
	return false
}

func TestFailsWithoutServer(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct{ env, want string }{
		"no programs":      {"PG_BINDIR=" + t.TempDir(), "no PostgreSQL server programs"},
		"no such server":   {"TEST_DATABASE_URL=postgres://u:p@/d?host=" + t.TempDir(), "no database to test with"},
		"no address":       {"TEST_DATABASE_URL=host=here", "is not an address like postgres://"},
		"broken migration": {failVariable + "=1", "a migration that is wrong"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			out, err := child(t, "once", "TEST_DATABASE_URL=", c.env).CombinedOutput()
			if err == nil {
				t.Errorf("the run passed:\n%s", out)
			}
			if !strings.Contains(string(out), c.want) {
				t.Errorf("the run does not say %q:\n%s", c.want, out)
			}
		})
	}
}

func TestServerByAddress(t *testing.T) {
	t.Parallel()
	mine := dbtest.New(t)
	cmd := child(t, "once", "TEST_DATABASE_URL="+mine, "PG_BINDIR="+t.TempDir())
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("run with TEST_DATABASE_URL: %v\n%s", err, out)
	}
	left := text(t, mine, fmt.Sprintf(`SELECT count(*)::text FROM pg_database WHERE datname LIKE '%%\_%d%%'`, cmd.Process.Pid))
	if left != "0" {
		t.Errorf("the run left %s databases on a server that is not its own", left)
	}
}

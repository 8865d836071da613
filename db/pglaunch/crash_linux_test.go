package pglaunch_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"delaybook/db/pglaunch"
)

func TestManyProcessesOnAFreshFolder(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	players := make([]*player, 6)
	for i := range players {
		players[i] = play(t, "open", opts.Dir)
	}
	owners := 0
	for _, p := range players {
		switch line := p.line(t); line {
		case "ready owner=true":
			owners++
		case "ready owner=false":
		default:
			t.Errorf("one of six said %q", line)
		}
	}
	if owners != 1 {
		t.Errorf("%d owners, want 1", owners)
	}
	for _, p := range players {
		if err := p.end(); err != nil {
			t.Errorf("one of six ended with %v", err)
		}
	}
	if left := serversIn(t, opts.Dir); len(left) > 0 {
		t.Errorf("processes %v are left", left)
	}
}

func TestOwnerIsKilled(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	owner := play(t, "serve", opts.Dir)
	if line := owner.line(t); line != "ready owner=true" {
		t.Fatalf("owner said %q", line)
	}
	attached, err := pglaunch.Attach(t.Context(), opts)
	if err != nil {
		t.Fatal(err)
	}
	mustExec(t, attached.URL(""), `CREATE TABLE kept (word text); INSERT INTO kept VALUES ('still here')`)

	env := readFile(t, fmt.Sprintf("/proc/%d/environ", serverPID(t, opts.Dir)))
	if strings.Contains(env, "PGPORT") || !strings.Contains(env, "LC_ALL=C\x00") {
		t.Errorf("the server has its owner's environment: %q", env)
	}

	owner.kill(t)
	await(t, "the server to follow its owner", func() bool { return len(serversIn(t, opts.Dir)) == 0 })
	if log := readFile(t, filepath.Join(opts.Dir, "postgres.log")); !strings.Contains(log, "database system is shut down") {
		t.Errorf("the server did not shut down in order:\n%s", log)
	}
	c := mustStart(t, opts)
	if got := mustText(t, c.URL(""), `SELECT word FROM kept`); got != "still here" {
		t.Errorf("after the crash the table holds %q", got)
	}
}

func TestServerIsKilled(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	opts.Volatile = false // what is committed must be there afterwards
	c := mustStart(t, opts)
	mustExec(t, c.URL(""), `CREATE TABLE kept (word text); INSERT INTO kept VALUES ('still here')`)
	if err := c.Err(); err != nil {
		t.Fatalf("Err while the server runs: %v", err)
	}
	kill(t, serverPID(t, opts.Dir), syscall.SIGKILL)
	select {
	case <-c.Done():
	case <-time.After(20 * time.Second):
		t.Fatal("Done is open 20 s after the server was killed")
	}
	failed, ok := errors.AsType[*pglaunch.ServerError](c.Err())
	if !ok || !strings.Contains(failed.Error(), "killed") {
		t.Errorf("Err = %v, want a ServerError that says how it ended", c.Err())
	}
	if err := c.Stop(); err != nil {
		t.Errorf("Stop after that: %v", err)
	}
	again := mustStart(t, opts)
	if got := mustText(t, again.URL(""), `SELECT word FROM kept`); got != "still here" {
		t.Errorf("after recovery the table holds %q", got)
	}
}

// A server without its owner, as it is left where the kernel does not tie
// their lives together, or by a killed server's workers.
func TestOrphanedServerIsTakenOver(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	if err := mustStart(t, opts).Stop(); err != nil {
		t.Fatal(err)
	}
	user := serverUser(t, opts.Dir)
	orphan := exec.Command(filepath.Join(installedPrograms(t), "postgres"), "-D", filepath.Join(opts.Dir, "data"),
		"-c", "listen_addresses=", "-c", "unix_socket_directories="+filepath.Join(opts.Dir, "run"))
	var said strings.Builder
	orphan.Dir, orphan.Stderr = "/", &said
	orphan.SysProcAttr = &syscall.SysProcAttr{Credential: user}
	if err := orphan.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- orphan.Wait() }()
	await(t, "the orphan to accept connections", func() bool {
		_, err := os.Stat(filepath.Join(opts.Dir, "run", ".s.PGSQL.5432"))
		return err == nil
	})

	c := mustStart(t, opts)
	if got := mustText(t, c.URL(""), `SELECT 'hello'`); got != "hello" {
		t.Errorf("got %q", got)
	}
	if err := <-ended; err != nil || !strings.Contains(said.String(), "received fast shutdown request") {
		t.Errorf("the orphan was not stopped in order: %v\n%s", err, said.String())
	}
}

// PostgreSQL alone refuses to start here: the number in its pid file has gone
// to another process of its user.
func TestStaleFilesThatNameAStranger(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	if err := mustStart(t, opts).Stop(); err != nil {
		t.Fatal(err)
	}
	user := serverUser(t, opts.Dir)
	stranger := exec.Command("sleep", "600")
	stranger.SysProcAttr = &syscall.SysProcAttr{Credential: user, Pdeathsig: syscall.SIGKILL}
	stranger.Dir = "/"
	if err := stranger.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := stranger.Process.Kill(); err != nil {
			t.Errorf("the stranger was stopped: %v", err)
		}
		_ = stranger.Wait()
	})
	data, run := filepath.Join(opts.Dir, "data"), filepath.Join(opts.Dir, "run")
	// The first lines of the file as PostgreSQL writes them: process, folder,
	// start time, port, socket folder.
	stale := fmt.Sprintf("%d\n%s\n1700000000\n5432\n%s\n", stranger.Process.Pid, data, run)
	for _, path := range []string{
		filepath.Join(data, "postmaster.pid"),
		filepath.Join(run, ".s.PGSQL.5432.lock"),
		filepath.Join(run, ".s.PGSQL.5432"),
	} {
		if err := os.WriteFile(path, []byte(stale), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chown(path, int(user.Uid), int(user.Gid)); err != nil {
			t.Fatal(err)
		}
	}
	c := mustStart(t, opts)
	if got := mustText(t, c.URL(""), `SELECT 'hello'`); got != "hello" {
		t.Errorf("got %q", got)
	}
}

// An owner that dies while it makes the cluster leaves data.new, which nobody
// takes for a whole one.
func TestUnfinishedClusterIsMadeAnew(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	owner := play(t, "serve", opts.Dir)
	unborn := filepath.Join(opts.Dir, "data.new")
	await(t, "initdb to begin", func() bool {
		_, err := os.Stat(filepath.Join(unborn, "PG_VERSION"))
		return err == nil
	})
	owner.kill(t)
	if _, err := os.Stat(filepath.Join(opts.Dir, "data")); err == nil {
		t.Fatal("the cluster was finished before the kill, so this test shows nothing")
	}
	c := mustStart(t, opts)
	if got := mustText(t, c.URL(""), `SELECT 'hello'`); got != "hello" {
		t.Errorf("got %q", got)
	}
	if _, err := os.Stat(unborn); !os.IsNotExist(err) {
		t.Errorf("data.new is left: %v", err)
	}
}

func TestCancelledStartLeavesNoServer(t *testing.T) {
	t.Parallel()
	opts := volatileOptions(t)
	ctx, cancel := context.WithCancel(t.Context())
	go func() {
		defer cancel()
		await(t, "initdb to begin", func() bool {
			_, err := os.Stat(filepath.Join(opts.Dir, "data.new", "PG_VERSION"))
			return err == nil
		})
	}()
	if _, err := pglaunch.Start(ctx, opts); !errors.Is(err, context.Canceled) {
		t.Fatalf("Start = %v, want it cancelled", err)
	}
	await(t, "initdb's server to end", func() bool { return len(serversIn(t, opts.Dir)) == 0 })
	mustStart(t, opts) // the lock was given back
}

// await polls: there is nothing to wait on in another process's doings.
func await(tb testing.TB, what string, done func() bool) {
	tb.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	for !done() {
		select {
		case <-ctx.Done():
			tb.Errorf("waited in vain for %s", what)
			return
		case <-time.After(time.Millisecond):
		}
	}
}

// serversIn lists the processes that work in a folder, by their own account.
func serversIn(tb testing.TB, folder string) []string {
	tb.Helper()
	links, err := filepath.Glob("/proc/[0-9]*/cwd")
	if err != nil {
		tb.Fatal(err)
	}
	var pids []string
	for _, link := range links {
		if cwd, err := os.Readlink(link); err == nil && strings.HasPrefix(cwd, folder+"/") {
			pids = append(pids, filepath.Base(filepath.Dir(link)))
		}
	}
	return pids
}

func serverPID(tb testing.TB, dir string) int {
	tb.Helper()
	line, _, _ := strings.Cut(readFile(tb, filepath.Join(dir, "data", "postmaster.pid")), "\n")
	pid, err := strconv.Atoi(line)
	if err != nil {
		tb.Fatal(err)
	}
	return pid
}

// serverUser is whom the cluster belongs to.
func serverUser(tb testing.TB, dir string) *syscall.Credential {
	tb.Helper()
	info, err := os.Stat(filepath.Join(dir, "data"))
	if err != nil {
		tb.Fatal(err)
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		tb.Fatal("no owner")
	}
	return &syscall.Credential{Uid: st.Uid, Gid: st.Gid, NoSetGroups: os.Geteuid() != 0}
}

func kill(tb testing.TB, pid int, sig syscall.Signal) {
	tb.Helper()
	if err := syscall.Kill(pid, sig); err != nil {
		tb.Fatalf("signal %d: %v", pid, err)
	}
}

func readFile(tb testing.TB, path string) string {
	tb.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		tb.Fatal(err)
	}
	return string(raw)
}

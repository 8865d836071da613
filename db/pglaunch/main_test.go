package pglaunch_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"delaybook/db/pglaunch"
)

// The test binary runs itself for what needs a second process: the role is
// the first argument after roleFlag, the data folder the second.
const roleFlag = "-pglaunch-role"

func TestMain(m *testing.M) {
	if len(os.Args) > 3 && os.Args[1] == roleFlag {
		if err := playRole(os.Args[2], os.Args[3]); err != nil {
			fmt.Println("error:", err)
			os.Exit(1)
		}
		return
	}
	if err := runTests(m); err != nil {
		fmt.Println("error:", err)
		os.Exit(1)
	}
}

// runTests gives temporary files a folder of their own: the embedding library
// and sockets with short paths leave some.
func runTests(m *testing.M) error {
	dir, err := os.MkdirTemp("", "pglaunch-tmp-")
	if err != nil {
		return err
	}
	if err := errors.Join(os.Chmod(dir, 0o711), os.Setenv("TMPDIR", dir)); err != nil {
		return err
	}
	m.Run() // its result is the exit code of the binary
	return os.RemoveAll(dir)
}

// playRole prints one line when it has done what its name says, and then
// waits for its input to be closed.
func playRole(role, dir string) error {
	ctx := context.Background()
	opts := pglaunch.Options{Dir: dir, Program: "role " + role, Volatile: true}
	var c *pglaunch.Cluster
	var err error
	switch role {
	case "serve":
		c, err = pglaunch.Start(ctx, opts)
	case "open":
		c, err = pglaunch.Open(ctx, opts)
	default:
		err = fmt.Errorf("no role %s", role)
	}
	if err != nil {
		return err
	}
	conn, err := pgx.Connect(ctx, c.URL(""))
	if err != nil {
		return err
	}
	if err := conn.Close(ctx); err != nil {
		return err
	}
	fmt.Printf("ready owner=%t\n", c.Owner())
	if err := waitForEnd(); err != nil {
		return err
	}
	return c.Stop()
}

func waitForEnd() error {
	_, err := bufio.NewReader(os.Stdin).ReadString('\n')
	if err != nil && err.Error() != "EOF" {
		return err
	}
	return nil
}

// A player is a running role.
type player struct {
	cmd   *exec.Cmd
	out   *bufio.Reader
	close func() error
}

func play(tb testing.TB, role, dir string) *player {
	tb.Helper()
	self, err := os.Executable()
	if err != nil {
		tb.Fatal(err)
	}
	cmd := exec.Command(self, roleFlag, role, dir)
	cmd.Stderr = os.Stderr
	// None of this may lead the server or its clients astray.
	cmd.Env = append(os.Environ(), "PGPORT=6543", "PGHOST=nowhere", "PGDATA=/nowhere", "PGUSER=stranger",
		"PGPASSWORD=wrong", "LC_ALL=xx_XX.UTF-8")
	in, err := cmd.StdinPipe()
	if err != nil {
		tb.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		tb.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		tb.Fatalf("start role %s: %v", role, err)
	}
	p := &player{cmd: cmd, out: bufio.NewReader(out), close: in.Close}
	tb.Cleanup(func() { _ = p.end() })
	return p
}

// line is the next thing the role says.
func (p *player) line(tb testing.TB) string {
	tb.Helper()
	line, err := p.out.ReadString('\n')
	if err != nil {
		tb.Fatalf("role %v said nothing more: %v", p.cmd.Args[2:], err)
	}
	return strings.TrimSpace(line)
}

func (p *player) kill(tb testing.TB) {
	tb.Helper()
	if err := p.cmd.Process.Kill(); err != nil {
		tb.Fatal(err)
	}
	_ = p.cmd.Wait() // it says "killed"
}

// end lets the role stop its server, and waits for its exit.
func (p *player) end() error {
	_ = p.close() // the role may have gone
	return p.cmd.Wait()
}

// openFolder is a fresh folder that a server's user can reach. tb.TempDir is
// closed to everybody else.
func openFolder(tb testing.TB) string {
	tb.Helper()
	base := "/dev/shm"
	if _, err := os.Stat(base); err != nil {
		base = ""
	}
	dir, err := os.MkdirTemp(base, "pglaunch-test-")
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			tb.Errorf("a test left something that writes to its folder: %v", err)
		}
	})
	if err := os.Chmod(dir, 0o711); err != nil {
		tb.Fatal(err)
	}
	return dir
}

// volatileOptions use a folder that does not exist yet.
func volatileOptions(tb testing.TB) pglaunch.Options {
	return pglaunch.Options{Dir: filepath.Join(openFolder(tb), "book"), Program: "first", Volatile: true}
}

func mustStart(tb testing.TB, opts pglaunch.Options) *pglaunch.Cluster {
	tb.Helper()
	c, err := pglaunch.Start(tb.Context(), opts)
	if err != nil {
		tb.Fatalf("Start: %v", err)
	}
	tb.Cleanup(func() {
		if err := c.Stop(); err != nil {
			tb.Errorf("Stop: %v", err)
		}
	})
	return c
}

func mustExec(tb testing.TB, url, sql string) {
	tb.Helper()
	conn, err := pgx.Connect(tb.Context(), url)
	if err != nil {
		tb.Fatalf("connect: %v", err)
	}
	defer conn.Close(tb.Context())
	if _, err := conn.Exec(tb.Context(), sql); err != nil {
		tb.Fatalf("%s: %v", sql, err)
	}
}

func mustText(tb testing.TB, url, sql string) string {
	tb.Helper()
	conn, err := pgx.Connect(tb.Context(), url)
	if err != nil {
		tb.Fatalf("connect: %v", err)
	}
	defer conn.Close(tb.Context())
	var text string
	if err := conn.QueryRow(tb.Context(), sql).Scan(&text); err != nil {
		tb.Fatalf("%s: %v", sql, err)
	}
	return text
}

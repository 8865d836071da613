package pglaunch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"slices"
	"strings"
	"syscall"

	"github.com/jackc/pgx/v5"
)

// launch brings the server of an owned folder up.
func launch(ctx context.Context, o Options, own *ownership, acct account) (*Cluster, error) {
	l := layout{o.Dir}
	major, err := l.major()
	if err != nil {
		return nil, err
	}
	programs, err := o.find(ctx, major, acct)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeoutCause(ctx, o.Timeout, fmt.Errorf("the private PostgreSQL was not ready within %v", o.Timeout))
	defer cancel()

	if major != 0 {
		if err := takeOver(ctx, o, acct); err != nil {
			return nil, err
		}
	} else if err := initialize(ctx, o, programs, acct); err != nil {
		return nil, err
	}
	c, err := stored(o)
	if err != nil {
		return nil, err
	}
	if c.socket, err = l.makeSocketFolder(acct); err != nil {
		return nil, err
	}
	c.own, c.stopping = own, make(chan struct{})
	if err := c.serve(ctx, programs, acct); err != nil {
		return nil, err
	}
	if err := c.firstAnswer(ctx); err != nil {
		return nil, errors.Join(err, c.proc.end())
	}
	o.Logger.Info("private PostgreSQL runs", "dir", o.Dir, "programs", programs.Dir, "major", programs.Major,
		"user", acct.name, "pid", c.proc.pid)
	return c, nil
}

// serve starts the server. It is started directly, without pg_ctl, to be our
// child.
func (c *Cluster) serve(ctx context.Context, programs Programs, acct account) error {
	l := layout{c.opts.Dir}
	log, err := l.openLog()
	if err != nil {
		return err
	}
	if c.logged, err = log.Seek(0, io.SeekEnd); err != nil {
		return errors.Join(fmt.Errorf("open the server log: %w", err), log.Close())
	}
	settings := []string{
		"listen_addresses=",
		// A list, in which a quoted entry may hold anything but a quote.
		"unix_socket_directories=\"" + c.socket + "\"",
		"unix_socket_permissions=0700",
		"port=" + socketPort,
	}
	if c.opts.Volatile {
		settings = append(settings, volatileSettings...)
	}
	cmd := exec.Command(programs.path("postgres"), "-D", l.data())
	for _, s := range settings {
		cmd.Args = append(cmd.Args, "-c", s)
	}
	cmd.Dir = "/" // ours may be closed to the account
	cmd.Env = plainEnv(cmd.Environ())
	cmd.Stdout, cmd.Stderr = log, log
	cmd.SysProcAttr = acct.attributes(syscall.SIGINT)

	if err := context.Cause(ctx); err != nil {
		return errors.Join(err, log.Close())
	}
	c.proc, err = start(cmd)
	if err != nil {
		err = fmt.Errorf("start %s as user %s: %w", cmd.Path, acct.name, err)
	}
	return errors.Join(err, log.Close()) // the server has its own handle
}

// volatileSettings leave everything to luck that a test can repeat. Shared
// memory in files goes with the folder when the server is killed.
var volatileSettings = []string{
	"fsync=off", "full_page_writes=off", "synchronous_commit=off", "autovacuum=off",
	"max_connections=300", "dynamic_shared_memory_type=mmap",
}

// firstAnswer waits until the server answers, and makes the database.
func (c *Cluster) firstAnswer(ctx context.Context) error {
	for {
		conn, err := c.connect(ctx, "postgres")
		if err == nil {
			return errors.Join(c.createDatabase(ctx, conn), conn.Close(ctx))
		}
		if isFinal(err) {
			return fmt.Errorf("log in to the private PostgreSQL in %s: %w", c.opts.Dir, err)
		}
		select {
		case <-c.proc.exited:
			return &ServerError{Doing: "start the private PostgreSQL", Log: c.said(), Err: c.proc.state()}
		default:
		}
		if stop := pause(ctx, answerPause); stop != nil {
			return errors.Join(stop, err)
		}
	}
}

func (c *Cluster) createDatabase(ctx context.Context, conn *pgx.Conn) error {
	var exists bool
	err := conn.QueryRow(ctx, `SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)`, c.opts.Database).Scan(&exists)
	if err == nil && !exists {
		_, err = conn.Exec(ctx, "CREATE DATABASE "+pgx.Identifier{c.opts.Database}.Sanitize())
	}
	if err != nil {
		return fmt.Errorf("create database %s: %w", c.opts.Database, err)
	}
	return nil
}

// openLog opens the log to append to, and starts a new one when it has grown.
func (l layout) openLog() (*os.File, error) {
	const most = 8 << 20 // bytes; one old log is kept
	if info, err := os.Stat(l.log()); err == nil && info.Size() > most {
		if err := os.Rename(l.log(), l.log()+".1"); err != nil {
			return nil, fmt.Errorf("put the old server log away: %w", err)
		}
	}
	f, err := os.OpenFile(l.log(), os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return nil, fmt.Errorf("open the server log: %w", err)
	}
	return f, nil
}

// said is the end of what this server has logged, for error messages.
func (c *Cluster) said() string {
	const most = 2000 // bytes
	f, err := os.Open(layout{c.opts.Dir}.log())
	if err != nil {
		return ""
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return ""
	}
	from := max(c.logged, info.Size()-most)
	raw, err := io.ReadAll(io.NewSectionReader(f, from, info.Size()-from))
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(raw))
}

// plainEnv keeps of an environment what programs need to run at all. The rest
// can redirect PostgreSQL (PGDATA, PGPORT, LC_ALL) or is none of its business.
func plainEnv(env []string) []string {
	kept := slices.DeleteFunc(slices.Clone(env), func(kv string) bool {
		name, _, _ := strings.Cut(kv, "=")
		return name != "PATH" && name != "LD_LIBRARY_PATH" && !strings.HasPrefix(name, "DYLD_")
	})
	return append(kept, "LC_ALL=C", "TZ=UTC")
}

package pglaunch

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"sync"
	"syscall"
	"time"
)

// A Cluster is a running private server, owned or attached to. Its methods may
// be called from several goroutines.
type Cluster struct {
	opts     Options
	socket   string // folder of the socket
	password string

	logged int64 // length of the log before this start

	own  *ownership // nil when attached
	proc *process   // nil when attached

	stop     sync.Once
	stopErr  error
	stopping chan struct{} // closed when Stop begins; nil when attached
}

// Start starts the server of opts.Dir, making the cluster and the database if
// they do not exist, and returns when it answers. ctx bounds the starting, not
// the life of the server; the caller calls Stop.
//
// If another process owns the folder the error is an *OwnedError. Other errors
// with a type are *NoProgramsError, *VersionError, *FolderError, *ServerError.
func Start(ctx context.Context, opts Options) (*Cluster, error) {
	o, err := opts.complete()
	if err != nil {
		return nil, err
	}
	own, acct, err := claim(ctx, o)
	if err != nil {
		return nil, err
	}
	c, err := launch(ctx, o, own, acct)
	if err != nil {
		return nil, errors.Join(err, own.release())
	}
	return c, nil
}

// Attach connects to the server that another process runs in opts.Dir. It
// waits while that one is still starting, and returns ErrNotRunning if no
// process owns the folder. Of opts it uses Dir, User, Database, Timeout and
// Logger; User and Database must be the owner's.
func Attach(ctx context.Context, opts Options) (*Cluster, error) {
	o, err := opts.complete()
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, o.Timeout)
	defer cancel()
	return attach(ctx, o)
}

// Open starts the server if no process owns the folder and attaches to it
// otherwise. It is for commands that need the data and do not mind who serves.
func Open(ctx context.Context, opts Options) (*Cluster, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	for {
		c, err := Start(ctx, opts)
		if _, owned := errors.AsType[*OwnedError](err); !owned {
			return c, err
		}
		// The owner may leave between our two looks at it.
		c, err = Attach(ctx, opts)
		if !errors.Is(err, ErrNotRunning) {
			return c, err
		}
	}
}

// Owner tells an owned Cluster from an attached one.
func (c *Cluster) Owner() bool { return c.proc != nil }

// URL is the address of a database of the cluster, with its password; an empty
// name means Options.Database. It names a unix socket:
// postgres://USER:PASSWORD@/DATABASE?host=FOLDER&port=5432.
func (c *Cluster) URL(database string) string {
	query := url.Values{"host": {c.socket}, "port": {socketPort}}.Encode()
	u := url.URL{
		Scheme: "postgres",
		User:   url.UserPassword(c.opts.User, c.password),
		Path:   "/" + orElse(database, c.opts.Database),
		// The port is spelled out because clients take PGPORT otherwise. They
		// take a plus sign literally: this is no web form.
		RawQuery: strings.ReplaceAll(query, "+", "%20"),
	}
	return u.String()
}

// Done is closed when the server has ended, by Stop or by itself: Err tells
// which. For an attached Cluster it never is.
func (c *Cluster) Done() <-chan struct{} {
	if c.proc == nil {
		return nil
	}
	return c.proc.exited
}

// Err is nil while the server runs and after Stop, and says what happened if
// the server ended by itself.
func (c *Cluster) Err() error {
	if c.proc == nil {
		return nil
	}
	select {
	case <-c.stopping:
		return nil
	default:
	}
	select {
	case <-c.proc.exited:
		return &ServerError{
			Doing: "the private PostgreSQL ended by itself",
			Log:   c.said(),
			Err:   c.proc.state(),
		}
	default:
		return nil
	}
}

// Stop stops the server and gives the folder up: connections are cut,
// transactions rolled back, everything committed is on disk. It waits up to 30
// seconds for that before it uses force. A second call returns what the first
// did. On an attached Cluster it does nothing.
func (c *Cluster) Stop() error {
	if c.proc == nil {
		return nil
	}
	c.stop.Do(func() {
		c.stopErr = errors.Join(c.end(), c.own.release())
	})
	return c.stopErr
}

func (c *Cluster) end() error {
	select {
	case <-c.proc.exited:
		return nil // Err has told
	default:
	}
	close(c.stopping)
	c.opts.Logger.Info("stopping the private PostgreSQL", "dir", c.opts.Dir)
	if err := c.proc.end(); err != nil {
		return fmt.Errorf("stop the private PostgreSQL in %s: %w", c.opts.Dir, err)
	}
	return nil
}

// The ways to end a server, gentlest first, and how long each may take.
var endings = []struct {
	signal syscall.Signal
	wait   time.Duration
}{
	{syscall.SIGINT, 30 * time.Second},  // fast: cut connections, checkpoint
	{syscall.SIGQUIT, 10 * time.Second}, // immediate: recovery at the next start
	{syscall.SIGKILL, 10 * time.Second},
}

package pglaunch

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// How often to ask a server that does not answer yet, and how long to wait for
// one answer.
const (
	answerPause   = 20 * time.Millisecond
	answerTimeout = 5 * time.Second
)

// attach asks until the owner's server answers or there is no owner.
func attach(ctx context.Context, o Options) (*Cluster, error) {
	l := layout{o.Dir}
	if !supported {
		return nil, ErrUnsupported
	}
	for {
		c, err := stored(o)
		if err == nil {
			err = c.ping(ctx)
		}
		if err == nil {
			o.Logger.Debug("attached to the private PostgreSQL", "dir", o.Dir)
			return c, nil
		}
		if errors.Is(err, fs.ErrPermission) || isFinal(err) {
			return nil, fmt.Errorf("attach to the database in %s: %w", o.Dir, err)
		}
		owned, lockErr := isOwned(l)
		if lockErr != nil {
			return nil, lockErr
		}
		if !owned {
			return nil, fmt.Errorf("%s: %w", o.Dir, ErrNotRunning)
		}
		if stop := pause(ctx, answerPause); stop != nil {
			return nil, fmt.Errorf("attach to the database in %s: %w", o.Dir, errors.Join(stop, err))
		}
	}
}

// stored is the Cluster that the folder's files describe, running or not.
func stored(o Options) (*Cluster, error) {
	l := layout{o.Dir}
	raw, err := os.ReadFile(l.password())
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &FolderError{o.Dir, "has no file password, without which nobody can log in to the cluster in data/; restore both from one backup"}
	}
	if err != nil {
		return nil, fmt.Errorf("read the password of the cluster: %w", err)
	}
	socket := l.run()
	if short, err := os.Readlink(socket); err == nil {
		socket = short
	}
	return &Cluster{opts: o, socket: socket, password: strings.TrimSpace(string(raw))}, nil
}

// ping opens the database that the owner makes last.
func (c *Cluster) ping(ctx context.Context) error {
	conn, err := c.connect(ctx, "")
	if err != nil {
		return err
	}
	return conn.Close(ctx)
}

func (c *Cluster) connect(ctx context.Context, database string) (*pgx.Conn, error) {
	ctx, cancel := context.WithTimeout(ctx, answerTimeout)
	defer cancel()
	return pgx.Connect(ctx, c.URL(database))
}

// isFinal: asking again will not help.
func isFinal(err error) bool {
	const wrongPassword, noRole = "28P01", "28000"
	pg, ok := errors.AsType[*pgconn.PgError](err)
	return ok && (pg.Code == wrongPassword || pg.Code == noRole)
}

// recordedPID is the server's process id by its pid file, or 0.
func (l layout) recordedPID() int {
	raw, err := os.ReadFile(l.pidFile())
	if err != nil {
		return 0
	}
	line, _, _ := strings.Cut(string(raw), "\n")
	pid, err := strconv.Atoi(strings.TrimSpace(line))
	if err != nil {
		return 0
	}
	return pid
}

// RemoveVolatile removes a data folder that Options.Volatile made, stopping a
// server that was left in it. It refuses any other folder, and one in use.
func RemoveVolatile(ctx context.Context, dir string) error {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return fmt.Errorf("remove a volatile cluster: %w", err)
	}
	if _, err := os.Stat(layout{dir}.volatile()); err != nil {
		return &FolderError{dir, "does not hold a volatile cluster, and is left alone"}
	}
	o, err := Options{Dir: dir, Volatile: true}.complete()
	if err != nil {
		return err
	}
	own, acct, err := claim(ctx, o)
	if err != nil {
		return err
	}
	l := layout{dir}
	err = errors.Join(takeOver(ctx, o, acct), killUnborn(ctx, l))
	if err == nil {
		if short, linkErr := os.Readlink(l.run()); linkErr == nil {
			err = os.RemoveAll(short)
		}
		err = errors.Join(err, os.RemoveAll(dir))
	}
	// The lock file has gone with the folder; closing frees the lock.
	if err := errors.Join(err, own.file.Close()); err != nil {
		return fmt.Errorf("remove a volatile cluster: %w", err)
	}
	return nil
}

package pglaunch

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"strings"
	"time"
)

// Options say where a private server lives and how to run it. Only Dir is
// required.
type Options struct {
	// Dir is the data folder. It is made if it does not exist.
	Dir string

	// Program names the calling command in the lock file, so that a second one
	// can say who owns the folder, for example "delaybook serve". The default
	// is "another process".
	Program string

	// User is the database role that owns everything. The default is "app".
	// It is fixed by the first start of a folder.
	User string

	// Database is the database that Start creates if it is missing, and the
	// one that URL("") names. The default is "delaybook".
	Database string

	// BinDir is the folder of the server programs (postgres, initdb). When it
	// is empty they are looked for with Search. When it is set nothing else is
	// tried.
	BinDir string

	// Search lists folders that may hold the server programs, best first.
	// Folders that hold none are passed over. Nil means [UsualPlaces].
	Search func(context.Context) []string

	// Fetch, if not nil, allows downloading the programs when the machine has
	// none that fit. Nil never touches the network.
	Fetch *Fetch

	// Volatile trades safety for speed: a crash of the machine may destroy the
	// data. It is for tests. A folder is marked at its first start, and is
	// refused by a start of the other kind.
	Volatile bool

	// Timeout bounds Start and Attach, in addition to their context. It
	// includes making the cluster, but not fetching programs. The default is
	// two minutes: recovery after a crash of a busy server takes its time.
	Timeout time.Duration

	// Logger is told of starts, stops and take-overs. Nil discards.
	Logger *slog.Logger
}

// A Fetch says where server programs may be downloaded from and kept.
type Fetch struct {
	// Repository is the base address of the archives. Empty means the
	// default of the embedding library. Only https, or http to this machine.
	Repository string

	// CacheDir keeps the unpacked programs, one folder a version. It is
	// required, and must be passable for the account that runs the server.
	CacheDir string

	// Major is the major version to fetch for a new cluster. An existing one
	// decides by itself. The default is 18.
	Major int
}

const (
	defaultTimeout    = 2 * time.Minute
	defaultFetchMajor = 18

	// maxName is NAMEDATALEN-1: PostgreSQL cuts longer names silently.
	maxName = 63
)

// complete returns o with defaults filled in and Dir made absolute.
func (o Options) complete() (Options, error) {
	if o.Dir == "" {
		return o, errors.New("no data folder given: name the folder that keeps the database")
	}
	dir, err := filepath.Abs(o.Dir)
	if err != nil {
		return o, fmt.Errorf("data folder %s: %w", o.Dir, err)
	}
	o.Dir = dir
	o.Program = oneLine(orElse(o.Program, "another process"))
	o.User = orElse(o.User, "app")
	o.Database = orElse(o.Database, "delaybook")
	for _, name := range []string{o.User, o.Database} {
		if len(name) > maxName || strings.ContainsRune(name, 0) {
			return o, fmt.Errorf("%q is not a name for a role or a database: send at most %d bytes", name, maxName)
		}
	}
	if o.Search == nil {
		o.Search = UsualPlaces
	}
	if o.Timeout <= 0 {
		o.Timeout = defaultTimeout
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return o, nil
}

func orElse(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

// oneLine keeps the lock file one line long whatever the caller is called.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

package pglaunch

import (
	"errors"
	"fmt"
	"strings"
)

// ErrNotRunning is returned by Attach when no process owns the folder.
var ErrNotRunning = errors.New("no database server runs in this data folder")

// ErrUnsupported is returned on systems where no private server can be run.
var ErrUnsupported = errors.New("a private PostgreSQL cannot be started on this system; set DATABASE_URL to a server of yours")

// An OwnedError says that another process runs the server of a folder. Attach
// works meanwhile.
type OwnedError struct {
	Dir     string // the data folder
	PID     int    // the owner's process id; 0 if the owner has not written it yet
	Program string // what the owner calls itself
}

func (e *OwnedError) Error() string {
	who := e.Program
	if e.PID != 0 {
		who = fmt.Sprintf("%s (process %d)", e.Program, e.PID)
	}
	return fmt.Sprintf("data folder %s is in use by %s; stop that first, or name another folder", e.Dir, who)
}

// A NoProgramsError says that the machine has no server programs.
type NoProgramsError struct {
	BinDir string // the folder that was named, if one was
	Fetch  error  // why fetching did not help; nil if it was not allowed
}

func (e *NoProgramsError) Error() string {
	const advice = "set DATABASE_URL, or install them (Debian/Ubuntu: apt-get install postgresql; " +
		"Fedora: dnf install postgresql-server; Alpine: apk add postgresql; macOS: brew install postgresql@16), " +
		"or name their folder in PG_BINDIR"
	if e.BinDir != "" {
		return fmt.Sprintf("no PostgreSQL server programs (postgres, initdb) in %s; %s", e.BinDir, advice)
	}
	if e.Fetch != nil {
		return fmt.Sprintf("no PostgreSQL server programs found, and fetching them did not work (%v); %s", e.Fetch, advice)
	}
	return "no PostgreSQL server programs found; " + advice
}

// Unwrap returns why fetching did not help, if it was tried.
func (e *NoProgramsError) Unwrap() error { return e.Fetch }

// A FolderError says that a folder cannot be used, which one, and what to do.
type FolderError struct {
	Folder string // the folder at fault: Dir, something in it, or a parent
	Reason string // what is wrong with it, and what to do instead
}

func (e *FolderError) Error() string { return fmt.Sprintf("folder %s %s", e.Folder, e.Reason) }

// A ServerError says that a program of PostgreSQL failed, with its last words.
type ServerError struct {
	Doing string // what it was to do
	Log   string // the end of what it said; may be empty
	Err   error  // how it ended
}

func (e *ServerError) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %v", e.Doing, e.Err)
	if e.Log != "" {
		fmt.Fprintf(&b, "; it said:\n%s", e.Log)
	}
	if strings.Contains(e.Log, "could not look up effective user ID") {
		b.WriteString("\nthis process runs as a user that the system does not list: run it as a listed one " +
			"(docker run --user NAME), or set DATABASE_URL")
	}
	return b.String()
}

// Unwrap returns how the program ended.
func (e *ServerError) Unwrap() error { return e.Err }

package pglaunch

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Programs are the server programs of one installation.
type Programs struct {
	Dir   string // folder of postgres and initdb
	Major int    // their major version
}

func (p Programs) path(name string) string { return filepath.Join(p.Dir, name) }

func (p Programs) String() string { return fmt.Sprintf("%d in %s", p.Major, p.Dir) }

// UsualPlaces lists folders that may hold the server programs: where postgres
// is in PATH, what pg_config says, and where packages put them, newest first.
func UsualPlaces(ctx context.Context) []string {
	var dirs []string
	if path, err := exec.LookPath("postgres"); err == nil {
		// A link in /usr/local/bin: its neighbours are where it leads.
		if real, err := filepath.EvalSymlinks(path); err == nil {
			dirs = append(dirs, filepath.Dir(real))
		}
	}
	if out, err := exec.CommandContext(ctx, "pg_config", "--bindir").Output(); err == nil {
		dirs = append(dirs, strings.TrimSpace(string(out)))
	}
	var packaged []string
	for _, pattern := range []string{
		"/usr/lib/postgresql/*/bin",                               // Debian, Ubuntu
		"/usr/pgsql-*/bin",                                        // PostgreSQL's own rpm packages
		"/usr/libexec/postgresql*",                                // Alpine
		"/opt/homebrew/opt/postgresql@*/bin",                      // Homebrew
		"/usr/local/opt/postgresql@*/bin",                         // Homebrew on Intel
		"/opt/local/lib/postgresql*/bin",                          // MacPorts
		"/Applications/Postgres.app/Contents/Versions/*[0-9]/bin", // Mac application
		"/usr/local/pgsql/bin",                                    // built from source
	} {
		if found, err := filepath.Glob(pattern); err == nil {
			packaged = append(packaged, found...)
		}
	}
	slices.SortStableFunc(packaged, func(a, b string) int { return majorInPath(b) - majorInPath(a) })
	return append(dirs, packaged...)
}

var digits = regexp.MustCompile(`\d+`)

// majorInPath is the first number in a path. It only orders the candidates.
func majorInPath(path string) int {
	n, err := strconv.Atoi(digits.FindString(path))
	if err != nil {
		return 0
	}
	return n
}

// find returns programs of the wanted major version, or of any if want is 0.
func (o Options) find(ctx context.Context, want int, acct account) (Programs, error) {
	dirs := []string{o.BinDir}
	if o.BinDir == "" {
		dirs = o.Search(ctx)
		if o.Fetch != nil {
			dirs = append(dirs, o.Fetch.kept()...)
		}
	}
	var found []Programs
	var unfit error // of the first folder whose programs cannot be used
	for _, dir := range dirs {
		if slices.ContainsFunc(found, func(p Programs) bool { return p.Dir == dir }) {
			continue
		}
		p, err := inspect(ctx, dir)
		if err == nil && p.Major != 0 {
			err = acct.canRun(p.path("postgres"))
		}
		switch {
		case err != nil:
			unfit = cmp.Or(unfit, err)
		case p.Major == 0:
		case want == 0 || p.Major == want:
			return p, nil
		default:
			found = append(found, p)
		}
	}
	if o.BinDir == "" && o.Fetch != nil {
		return o.fetch(ctx, want, acct)
	}
	if len(found) > 0 {
		return Programs{}, o.mismatch(want, found, acct)
	}
	if unfit != nil {
		return Programs{}, unfit
	}
	return Programs{}, &NoProgramsError{BinDir: o.BinDir}
}

var versionOutput = regexp.MustCompile(`\(PostgreSQL\) (\d+)`)

// inspect asks the programs in a folder for their version. Without programs
// Major is 0.
func inspect(ctx context.Context, dir string) (Programs, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return Programs{}, fmt.Errorf("folder of the server programs: %w", err)
	}
	p := Programs{Dir: dir}
	for _, name := range []string{"postgres", "initdb"} {
		if info, err := os.Stat(p.path(name)); err != nil || info.IsDir() {
			return Programs{}, nil
		}
	}
	out, err := exec.CommandContext(ctx, p.path("postgres"), "--version").Output()
	if err != nil {
		detail := ""
		if exit, ok := errors.AsType[*exec.ExitError](err); ok {
			detail = strings.TrimSpace(string(exit.Stderr))
		}
		return Programs{}, &ServerError{Doing: "ask " + p.path("postgres") + " for its version", Log: detail, Err: err}
	}
	m := versionOutput.FindSubmatch(out)
	if m == nil {
		return Programs{}, &FolderError{dir, fmt.Sprintf("has a program postgres whose version cannot be read (%q); name another in PG_BINDIR", strings.TrimSpace(string(out)))}
	}
	if p.Major, err = strconv.Atoi(string(m[1])); err != nil {
		return Programs{}, fmt.Errorf("version of %s: %w", p.path("postgres"), err)
	}
	return p, nil
}

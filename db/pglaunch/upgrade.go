package pglaunch

import (
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// A VersionError says that a cluster was made by another major version of
// PostgreSQL than the programs at hand. The cluster has not been touched. The
// message says what to do, down to the commands.
type VersionError struct {
	Dir   string     // the data folder
	Data  int        // major version of the cluster
	Found []Programs // the programs at hand, none of that version

	user    string // the database role
	account account
}

func (o Options) mismatch(data int, found []Programs, acct account) error {
	return &VersionError{Dir: o.Dir, Data: data, Found: found, user: o.User, account: acct}
}

func (e *VersionError) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "the cluster in %s was made by PostgreSQL %d, and the programs found are %s; it was not touched.\n",
		layout{e.Dir}.data(), e.Data, joinPrograms(e.Found))
	fmt.Fprintf(&b, "Install the programs of PostgreSQL %d (Debian/Ubuntu: apt-get install postgresql-%[1]d) or name their folder in PG_BINDIR.", e.Data)
	if newer, ok := e.newest(); ok {
		fmt.Fprintf(&b, "\nOr move the cluster to PostgreSQL %d: make a backup, install both versions, and run:\n\n  %s\n",
			newer.Major, strings.Join(e.UpgradeCommands(), " &&\n  "))
	} else {
		b.WriteString(" A cluster cannot be moved to an older version.")
	}
	return b.String()
}

func joinPrograms(found []Programs) string {
	words := make([]string, len(found))
	for i, p := range found {
		words[i] = p.String()
	}
	return strings.Join(words, ", ")
}

// newest is the newest of the programs that are newer than the cluster.
func (e *VersionError) newest() (Programs, bool) {
	var best Programs
	for _, p := range e.Found {
		if p.Major > max(e.Data, best.Major) {
			best = p
		}
	}
	return best, best.Major != 0
}

// UpgradeCommands are the shell commands that move the cluster to the newest
// programs found. They are for the user that met the error, in one shell, each
// only if all before it succeeded. The old cluster is kept as data.N. There are
// none if the programs are older. They follow the steps of the page on
// pg_upgrade in the PostgreSQL manual.
func (e *VersionError) UpgradeCommands() []string {
	target, ok := e.newest()
	if !ok {
		return nil
	}
	return e.commands(target, Programs{Dir: siblingDir(target, e.Data), Major: e.Data})
}

func (e *VersionError) commands(to, from Programs) []string {
	l := layout{e.Dir}
	work := filepath.Join(e.Dir, "upgrade")
	old := fmt.Sprintf("%s.%d", l.data(), from.Major)
	owner, as := "", ""
	if e.account.drop {
		owner = " -o " + shellQuote(e.account.name)
		as = "runuser -u " + shellQuote(e.account.name) + " -- "
	}
	sockets := l.run()
	if !fitsSocket(sockets) || !plainWord.MatchString(sockets) {
		sockets = "/tmp" // pg_upgrade itself does not quote this for its shell
	}
	initdb := strings.Join(append(initdbArgs(shellQuote(e.user), "password"), "-D", "data"), " ")
	return []string{
		"install -d -m 0700" + owner + " " + shellQuote(work),
		"install -m 0600" + owner + " " + shellQuote(l.password()) + " " + shellQuote(filepath.Join(work, "password")),
		"cd " + shellQuote(work),
		as + shellQuote(to.path("initdb")) + " " + initdb,
		`PGPASSWORD="$(cat password)" ` + as + shellQuote(to.path("pg_upgrade")) +
			" -U " + shellQuote(e.user) + " -b " + shellQuote(from.Dir) + " -B " + shellQuote(to.Dir) +
			" -d " + shellQuote(l.data()) + " -D " + shellQuote(filepath.Join(work, "data")) + " -s " + shellQuote(sockets),
		"cd " + shellQuote(e.Dir),
		"mv data " + shellQuote(filepath.Base(old)),
		"mv upgrade/data data",
		"rm -r upgrade",
	}
}

// siblingDir guesses where the programs of another version are: where those of
// this version are, with the number changed.
func siblingDir(p Programs, major int) string {
	parts := strings.Split(p.Dir, string(filepath.Separator))
	number := regexp.MustCompile(`\b` + strconv.Itoa(p.Major) + `\b`)
	for i, part := range slices.Backward(parts) {
		if number.MatchString(part) {
			parts[i] = number.ReplaceAllString(part, strconv.Itoa(major))
			return strings.Join(parts, string(filepath.Separator))
		}
	}
	return fmt.Sprintf("/usr/lib/postgresql/%d/bin", major)
}

var plainWord = regexp.MustCompile(`^[A-Za-z0-9_./@:+-]+$`)

// shellQuote makes one word of s for a POSIX shell.
func shellQuote(s string) string {
	if plainWord.MatchString(s) {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}

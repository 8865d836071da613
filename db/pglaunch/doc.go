// Package pglaunch starts a private PostgreSQL server in a data folder, and
// attaches to one that another process of the same program already runs there.
//
// It is what makes the service usable with one command and no database set up
// by hand. It is not a manager of shared servers: whoever has one gives its
// address to the service and never comes here.
//
// # The folder
//
//	DIR/lock          flock of the process that owns the server; names it
//	DIR/password      of the one database role, 24 random bytes
//	DIR/postgres.log  what the server and initdb say
//	DIR/data/         the cluster; the only thing here worth a backup, with password
//	DIR/run/          the socket; a link to a short folder when DIR's path is long
//	DIR/volatile      present when the cluster may lose data at any time (tests)
//
// # How it runs
//
// The server listens on a unix socket only, asks for a password (SCRAM), and is
// started directly, in its own process group. A process run by root gives up
// its privileges for the server: PostgreSQL refuses to run as root. On Linux
// the kernel stops the server when the owning process dies, however it dies;
// elsewhere the next Start takes an orphaned server over.
//
// Programs come from the machine (see [Options.BinDir]). Data of one major
// version is never started with programs of another, and never upgraded or
// removed here: see [VersionError].
package pglaunch

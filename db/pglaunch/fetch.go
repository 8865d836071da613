package pglaunch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"slices"

	embeddedpostgres "github.com/fergusstrange/embedded-postgres"
)

// fetchable are the versions that the embedding library knows archives of.
var fetchable = map[int]embeddedpostgres.PostgresVersion{
	13: embeddedpostgres.V13,
	14: embeddedpostgres.V14,
	15: embeddedpostgres.V15,
	16: embeddedpostgres.V16,
	17: embeddedpostgres.V17,
	18: embeddedpostgres.V18,
}

// kept lists the folders of programs that were fetched before.
func (f *Fetch) kept() []string {
	var dirs []string
	for _, version := range fetchable {
		dirs = append(dirs, filepath.Join(f.home(version), "bin"))
	}
	slices.SortFunc(dirs, func(a, b string) int { return majorOfKept(b) - majorOfKept(a) })
	return dirs
}

func (f *Fetch) home(version embeddedpostgres.PostgresVersion) string {
	return filepath.Join(f.CacheDir, fmt.Sprintf("postgresql-%s-%s-%s", version, runtime.GOOS, runtime.GOARCH))
}

func majorOfKept(dir string) int { return majorInPath(filepath.Base(filepath.Dir(dir))) }

// fetch downloads programs of the wanted version, or of Fetch.Major, and
// unpacks them into the cache.
func (o Options) fetch(ctx context.Context, want int, acct account) (Programs, error) {
	f := o.Fetch
	if want == 0 {
		want = f.Major
	}
	if want == 0 {
		want = defaultFetchMajor
	}
	fail := func(err error) (Programs, error) { return Programs{}, &NoProgramsError{Fetch: err} }
	version, ok := fetchable[want]
	if !ok {
		return fail(fmt.Errorf("there is no archive of PostgreSQL %d", want))
	}
	if err := f.check(); err != nil {
		return fail(err)
	}
	if err := os.MkdirAll(f.CacheDir, 0o755); err != nil {
		return fail(fmt.Errorf("make the cache: %w", err))
	}
	if err := acct.canReach(f.home(version)); err != nil {
		return fail(err)
	}
	o.Logger.Info("fetching PostgreSQL programs, because the machine has none that fit", "version", string(version), "cache", f.CacheDir)
	if err := f.unpackInBackground(ctx, version, want); err != nil {
		return fail(err)
	}
	p := Programs{Dir: filepath.Join(f.home(version), "bin"), Major: want}
	if err := acct.canRun(p.path("postgres")); err != nil {
		return fail(err)
	}
	return p, nil
}

// check refuses to run programs that anybody on the way could have replaced.
func (f *Fetch) check() error {
	if f.CacheDir == "" {
		return errors.New("no cache folder is set for them")
	}
	if f.Repository == "" {
		return nil
	}
	u, err := url.Parse(f.Repository)
	if err != nil {
		return fmt.Errorf("address of the repository: %w", err)
	}
	ip := net.ParseIP(u.Hostname())
	local := u.Hostname() == "localhost" || ip != nil && ip.IsLoopback()
	if u.Scheme != "https" && !(u.Scheme == "http" && local) {
		return fmt.Errorf("repository %s: only https, or http to this machine, is safe to run programs from", u.Redacted())
	}
	return nil
}

// unpackInBackground lets ctx end the waiting. The library cannot be
// interrupted; what it still unpacks is removed when it is through.
func (f *Fetch) unpackInBackground(ctx context.Context, version embeddedpostgres.PostgresVersion, major int) error {
	done := make(chan error, 1)
	go func() { done <- f.unpack(ctx, version, major) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}

// unpack has the embedding library fetch and unpack the programs, and no more.
//
// The library has no call for that: its Start goes on to make a cluster, and
// *removes* a data folder whose version it does not expect. So its data folder
// is a path that cannot exist, below a plain file, in a scratch folder: Start
// unpacks, and then fails before it runs any program. One thing escapes: it
// leaves an empty log file in the system's temporary folder.
func (f *Fetch) unpack(ctx context.Context, version embeddedpostgres.PostgresVersion, major int) (err error) {
	scratch, err := os.MkdirTemp(f.CacheDir, ".unpack-")
	if err != nil {
		return fmt.Errorf("unpack the programs: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(scratch)) }()
	plainFile := filepath.Join(scratch, "file")
	if err := os.WriteFile(plainFile, nil, 0o600); err != nil {
		return fmt.Errorf("unpack the programs: %w", err)
	}
	programs := filepath.Join(scratch, "programs")
	runtimePath := filepath.Join(scratch, "runtime")
	config := embeddedpostgres.DefaultConfig().
		Version(version).
		Port(0). // it insists on a free one, and this always is
		CachePath(filepath.Join(scratch, "archive")).
		RuntimePath(runtimePath).
		BinariesPath(programs).
		DataPath(filepath.Join(plainFile, "data")).
		Logger(io.Discard)
	if f.Repository != "" {
		config = config.BinaryRepositoryURL(f.Repository)
	}
	startErr := embeddedpostgres.NewDatabase(config).Start()
	if startErr == nil {
		return errors.New("unpack the programs: the library started a server where none can be")
	}
	// It makes its runtime folder once everything is unpacked: programs alone
	// may be the first half of a broken archive.
	if _, err := os.Stat(runtimePath); err != nil {
		return fmt.Errorf("unpack the programs: %w", startErr)
	}
	got, err := inspect(ctx, filepath.Join(programs, "bin"))
	if err == nil && got.Major != major {
		err = fmt.Errorf("the archive of %s holds programs of version %d", version, got.Major)
	}
	if err != nil {
		return err
	}
	return f.keep(programs, version)
}

// keep moves unpacked programs to their place. If another process was faster,
// its copy is as good.
func (f *Fetch) keep(programs string, version embeddedpostgres.PostgresVersion) error {
	err := os.Rename(programs, f.home(version))
	if err == nil {
		return nil
	}
	if _, statErr := os.Stat(filepath.Join(f.home(version), "bin", "postgres")); statErr == nil {
		return nil
	}
	return fmt.Errorf("keep the programs: %w", err)
}

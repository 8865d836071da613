package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"delaybook/db"
	"delaybook/db/pglaunch"
	"delaybook/migrations"

	"github.com/spf13/pflag"
)

// databaseFlags say where the book is kept.
type databaseFlags struct {
	url  string // DATABASE_URL
	data string // folder of the private PostgreSQL; used without a url
	name string // database within it
}

// databaseFlags registers the flags. name is that of the folder and of the
// database in it: the demo has its own, so that beginning it anew can not touch
// a real book, whatever folder it is given.
func (p *program) databaseFlags(flags *pflag.FlagSet, name string) *databaseFlags {
	f := &databaseFlags{name: name}
	flags.StringVar(&f.url, "database-url", p.getenv("DATABASE_URL"), "PostgreSQL database to use (default: DATABASE_URL; without it a private PostgreSQL)")
	flags.StringVar(&f.data, "data", p.dataFolder(name), "folder of the private PostgreSQL")
	return f
}

// dataFolder is where a person's or a machine's programs keep their data.
func (p *program) dataFolder(name string) string {
	if os.Geteuid() == 0 {
		return filepath.Join("/var/lib", name)
	}
	if base := p.getenv("XDG_DATA_HOME"); base != "" {
		return filepath.Join(base, name)
	}
	return filepath.Join(p.getenv("HOME"), ".local", "share", name)
}

// launch returns the options of the private PostgreSQL.
func (p *program) launch(f *databaseFlags, command string) pglaunch.Options {
	return pglaunch.Options{
		Dir: f.data, Database: f.name, Program: "delaybook " + command, BinDir: p.getenv("PG_BINDIR"), Logger: p.log,
		Fetch: &pglaunch.Fetch{CacheDir: filepath.Join(f.data, "programs")},
	}
}

// A database is an open, migrated book with what must be closed after it.
type database struct {
	store   *db.Store
	url     string
	cluster *pglaunch.Cluster // nil with a database from outside
}

// openDatabase opens the book. own says whether this program serves it: then
// a data folder in use by another is an error; other programs attach to it.
func (p *program) openDatabase(ctx context.Context, f *databaseFlags, command string, own bool) (*database, error) {
	d := &database{url: f.url}
	if f.url == "" {
		open := pglaunch.Open
		if own {
			open = pglaunch.Start
		}
		cluster, err := open(ctx, p.launch(f, command))
		if err != nil {
			return nil, err
		}
		d.cluster, d.url = cluster, cluster.URL("")
	}
	if err := migrations.Up(ctx, d.url); err != nil {
		return nil, errors.Join(err, d.close())
	}
	store, err := db.Open(ctx, d.url, db.Options{})
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open the book: %w", err), d.close())
	}
	d.store = store
	return d, nil
}

// close closes the book and stops a PostgreSQL that this program started.
func (d *database) close() error {
	if d.store != nil {
		d.store.Close()
	}
	if d.cluster != nil {
		return d.cluster.Stop()
	}
	return nil
}

// Package migrations holds the steps that make the database, as plain SQL, and
// runs them. A step that has landed is never edited: the next one changes what
// it made.
package migrations

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"

	"github.com/golang-migrate/migrate/v4"
	pgxmigrate "github.com/golang-migrate/migrate/v4/database/pgx/v5"
	"github.com/golang-migrate/migrate/v4/source/iofs"
	_ "github.com/jackc/pgx/v5/stdlib" // registers the driver that sql.Open names
)

//go:embed *.sql
var files embed.FS

// Up brings the database at url to the newest step, and the tables of the job
// queue to the form of this program. Locks are held meanwhile, so that several
// programs may start at once. It does nothing if the database is up to date.
func Up(ctx context.Context, url string) error {
	if err := run(ctx, url, (*migrate.Migrate).Up); err != nil {
		return err
	}
	return upJobs(ctx, url)
}

// Down undoes every step: all data is lost. It is for tests.
func Down(ctx context.Context, url string) error {
	return run(ctx, url, (*migrate.Migrate).Down)
}

func run(ctx context.Context, url string, step func(*migrate.Migrate) error) (err error) {
	source, err := iofs.New(files, ".")
	if err != nil {
		return fmt.Errorf("read the migrations: %w", err)
	}
	conn, err := sql.Open("pgx/v5", url)
	if err != nil {
		return fmt.Errorf("open the database: %w", err)
	}
	if err := conn.PingContext(ctx); err != nil {
		return errors.Join(fmt.Errorf("reach the database: %w", err), conn.Close())
	}
	driver, err := pgxmigrate.WithInstance(conn, &pgxmigrate.Config{})
	if err != nil {
		return errors.Join(fmt.Errorf("prepare the database for migration: %w", err), conn.Close())
	}
	m, err := migrate.NewWithInstance("iofs", source, "pgx5", driver)
	if err != nil {
		return errors.Join(fmt.Errorf("prepare the migrations: %w", err), driver.Close())
	}
	defer func() {
		sourceErr, driverErr := m.Close()
		err = errors.Join(err, sourceErr, driverErr)
	}()
	if err := step(m); err != nil && !errors.Is(err, migrate.ErrNoChange) {
		return fmt.Errorf("migrate the database: %w", err)
	}
	return nil
}

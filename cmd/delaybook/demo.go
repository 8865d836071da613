package main

import (
	"context"
	"errors"
	"fmt"
	"net"

	"delaybook/api/pages"
	"delaybook/cmd/delaybook/demo"
	"delaybook/migrations"

	"github.com/jackc/pgx/v5"
	"github.com/spf13/cobra"
)

func (p *program) demo() *cobra.Command {
	var flags serveFlags
	var data *databaseFlags
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Run the service with the book of an invented company",
		Long: "Run the service with the book of an invented company, in a folder of its own. The demo begins\n" +
			"anew at each start: what was added to it is gone. It listens on this machine only, because its\n" +
			"keys are known to everybody.",
		Args: exactly(0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := errors.Join(flags.check(), onlyLoopback(flags.listen)); err != nil {
				return err
			}
			d, keys, err := p.openDemo(cmd.Context(), data)
			if err != nil {
				return err
			}
			started := func(url string) error { return p.tryThese(url, keys) }
			return errors.Join(p.serveBook(cmd.Context(), &flags, data, d, started), d.close())
		},
	}
	flags.register(cmd.Flags())
	data = p.databaseFlags(cmd.Flags(), "delaybook-demo")
	return cmd
}

func onlyLoopback(listen string) error {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		return usage("--listen: %v", err)
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return usage("--listen: the demo's keys are known to everybody: listen on 127.0.0.1, ::1 or localhost")
	}
	return nil
}

// openDemo opens a fresh book with the demo in it.
func (p *program) openDemo(ctx context.Context, data *databaseFlags) (*database, demo.Keys, error) {
	d, err := p.openDatabase(ctx, data, "demo", true)
	if err != nil {
		return nil, demo.Keys{}, err
	}
	if d.cluster != nil {
		if err := p.empty(ctx, d); err != nil {
			return nil, demo.Keys{}, errors.Join(err, d.close())
		}
	}
	keys, err := demo.Fill(ctx, d.store, demo.Seed, now())
	if err != nil {
		return nil, demo.Keys{}, errors.Join(err, d.close())
	}
	return d, keys, nil
}

// empty takes what an earlier demo left out of the demo's own PostgreSQL. A
// database from outside is never emptied.
func (p *program) empty(ctx context.Context, d *database) error {
	v, err := d.store.Version(ctx)
	if err != nil || v == 0 {
		return err
	}
	conn, err := pgx.Connect(ctx, d.url)
	if err != nil {
		return fmt.Errorf("begin the demo anew: %w", err)
	}
	_, err = conn.Exec(ctx, `DROP SCHEMA IF EXISTS jobs CASCADE; DROP SCHEMA public CASCADE; CREATE SCHEMA public`)
	if err := errors.Join(err, conn.Close(ctx)); err != nil {
		return fmt.Errorf("begin the demo anew: %w", err)
	}
	return migrations.Up(ctx, d.url)
}

// tryThese prints a link and three commands to try.
func (p *program) tryThese(url string, keys demo.Keys) error {
	_, err := fmt.Fprintf(p.stdout, `
The demo answers at %[1]s with two crews, four rigs and six weeks of
measurements. Its keys are the same on every machine: never use them elsewhere.

See its pages as a technician of the red van:

  %[5]s

What to set in Harbour Hall, in one line a control:

  curl -s -H 'Authorization: Bearer %[2]s' -H 'Accept: text/plain' \
    %[1]s/v1/rigs/harbour-hall/delays

Add a hand clap, read as one frame early with the plan dialled in, and see what follows:

  curl -s -H 'Authorization: Bearer %[2]s' -H 'Content-Type: application/json' \
    -d '{"picture":"cam-1","sound":"lectern","method":"clap","readings":[{"frames":1,"heard":"early"}]}' \
    %[1]s/v1/rigs/harbour-hall/measurements

Why measurements of the same pair differ:

  curl -s -H 'Authorization: Bearer %[2]s' %[1]s/v1/rigs/harbour-hall/offsets

The key above is that of the red van. The blue van's: %[3]s
The office's, for everything: %[4]s
`, url, keys.RedVan, keys.BlueVan, keys.Admin, pages.JoinAddress(url, keys.Join))
	return err
}

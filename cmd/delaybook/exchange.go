package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"

	"delaybook/domain/exchange"
	"delaybook/domain/service"

	"github.com/spf13/cobra"
)

func (p *program) export() *cobra.Command {
	var data *databaseFlags
	cmd := &cobra.Command{
		Use:   "export",
		Short: "Write every fact of the book to standard output",
		Long: "Write every fact of the book to standard output, a line of JSON each; solve and import read it.\n" +
			"Keys leave without their secrets. It may run beside a service on the same data folder.",
		Args: exactly(0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return p.withBook(cmd.Context(), data, "export", func(use *service.Service) error {
				header, facts, err := use.Export(cmd.Context(), service.Request{Caller: service.Operator()})
				if err != nil {
					return err
				}
				return exchange.Write(p.stdout, header, facts)
			})
		},
	}
	data = p.databaseFlags(cmd.Flags(), "delaybook")
	return cmd
}

func (p *program) imports() *cobra.Command {
	var data *databaseFlags
	cmd := &cobra.Command{
		Use:   "import FILE",
		Short: "Make an export the book of a database that holds only keys",
		Long: "Make an export the book of a database in which there is nothing but keys; - reads standard input.\n" +
			"Identifiers, versions and authors stay. Keys that were there go on; none of the export works, because an\n" +
			"export holds no secrets: make new ones with key create. It may run beside a service on the same data folder.",
		Args: exactly(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			text, err := p.read(args[0])
			if err != nil {
				return err
			}
			_, facts, err := exchange.Read(bytes.NewReader(text))
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			return p.withBook(cmd.Context(), data, "import", func(use *service.Service) error {
				made, err := use.Import(cmd.Context(), service.Request{Caller: service.Operator()}, facts)
				if err != nil {
					return fmt.Errorf("%s: %w", args[0], err)
				}
				if made.KeptKeys > 0 {
					fmt.Fprintf(p.stderr, "delaybook: the book is at version %d; the keys of before go on\n", made.Version)
					return nil
				}
				fmt.Fprintf(p.stderr, "delaybook: the book is at version %d; make a key with key create\n", made.Version)
				return nil
			})
		},
	}
	data = p.databaseFlags(cmd.Flags(), "delaybook")
	return cmd
}

// withBook opens the book, beside a service that may run on it, for one use.
func (p *program) withBook(ctx context.Context, f *databaseFlags, command string, do func(*service.Service) error) (err error) {
	d, err := p.openDatabase(ctx, f, command, false)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.close()) }()
	use, err := p.openService(ctx, d.store)
	if err != nil {
		return err
	}
	return do(use)
}

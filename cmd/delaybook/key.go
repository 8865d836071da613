package main

import (
	"errors"
	"fmt"

	"delaybook/domain/service"

	"github.com/spf13/cobra"
)

func (p *program) key() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "key",
		Short: "Make access keys",
		Args:  exactly(0),
		RunE:  func(*cobra.Command, []string) error { return usage("key: the word create is missing") },
	}
	cmd.AddCommand(p.keyCreate())
	return cmd
}

func (p *program) keyCreate() *cobra.Command {
	var in service.NewKey
	var data *databaseFlags
	cmd := &cobra.Command{
		Use:   "create",
		Short: "Make a key and print it, once",
		Long: "Make a key and print it, once: the book keeps only a hash of it.\n" +
			"It may run beside a service on the same data folder, which knows the key at once.",
		Args: exactly(0),
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			if in.Role == "" {
				return usage("key create: --role is missing: reader, tech, editor or admin")
			}
			d, err := p.openDatabase(cmd.Context(), data, "key create", false)
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, d.close()) }()
			use, err := p.openService(cmd.Context(), d.store)
			if err != nil {
				return err
			}
			key, err := use.AddKey(cmd.Context(), service.Request{Caller: service.Operator()}, in)
			if err != nil {
				return err
			}
			_, err = fmt.Fprintln(p.stdout, key.Text)
			return err
		},
	}
	cmd.Flags().StringVar(&in.Role, "role", "", "reader, tech, editor or admin")
	cmd.Flags().StringVar(&in.Crew, "crew", "", "slug of the crew that the key belongs to (default: none)")
	cmd.Flags().StringVar(&in.Label, "label", "", "whose key it is, in words")
	data = p.databaseFlags(cmd.Flags(), "delaybook")
	return cmd
}

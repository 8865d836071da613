package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

func (p *program) migrate() *cobra.Command {
	var data *databaseFlags
	cmd := &cobra.Command{
		Use:   "migrate",
		Short: "Bring the database to the newest schema (serve does so by itself)",
		Args:  exactly(0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			d, err := p.openDatabase(cmd.Context(), data, "migrate", false)
			if err != nil {
				return err
			}
			fmt.Fprintln(p.stderr, "the database has the newest schema")
			return d.close()
		},
	}
	data = p.databaseFlags(cmd.Flags(), "delaybook")
	return cmd
}

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"

	"delaybook/domain/bookfile"
	"delaybook/domain/exchange"
	"delaybook/domain/service"

	"github.com/spf13/cobra"
)

func (p *program) solve() *cobra.Command {
	var fit bool
	cmd := &cobra.Command{
		Use:   "solve BOOK",
		Short: "Estimate offsets and latencies from a book file or an export, without a service",
		Long: "Estimate offsets and latencies from a book file or an export, without a service; - reads standard input.\n" +
			"An export gives the digits that the service gave, because it holds the variances in use.",
		Args: exactly(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			data, err := p.read(args[0])
			if err != nil {
				return err
			}
			answer, err := p.solveBook(cmd.Context(), data, fit)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			out := json.NewEncoder(p.stdout)
			out.SetIndent("", " ")
			return out.Encode(answer)
		},
	}
	cmd.Flags().BoolVar(&fit, "fit", false, "fit the variances instead of using those in the book")
	return cmd
}

func (p *program) solveBook(ctx context.Context, data []byte, fit bool) (*bookfile.Answer, error) {
	if isExport(data) {
		if fit {
			return nil, usage("solve --fit: an export holds the variances in use; --fit is for a book file")
		}
		_, facts, err := exchange.Read(bytes.NewReader(data))
		if err != nil {
			return nil, err
		}
		return service.Offline(facts, now).SolveBook(ctx)
	}
	f, warning, err := bookfile.Read(data)
	if err != nil {
		return nil, err
	}
	if warning != "" {
		fmt.Fprintf(p.stderr, "delaybook: solve goes on, but look at this: %s\n", warning)
	}
	if fit {
		return f.Fit()
	}
	return f.Solve()
}

// isExport reports whether data is an export, not a book written by hand.
func isExport(data []byte) bool {
	return bytes.HasPrefix(bytes.TrimSpace(data), []byte(`{"delaybook_export"`))
}

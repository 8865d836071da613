package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"delaybook/domain/plan"
	"delaybook/domain/planfile"

	"github.com/spf13/cobra"
)

func (p *program) plan() *cobra.Command {
	limit := 2 * time.Second
	cmd := &cobra.Command{
		Use:   "plan FILE",
		Short: "Say what to set, from a file of offsets and controls; - reads standard input",
		Args:  exactly(1),
		RunE: func(_ *cobra.Command, args []string) error {
			data, err := p.read(args[0])
			if err != nil {
				return err
			}
			end := now().Add(limit)
			answer, err := planfile.Run(data, plan.Budget{Expired: func() bool { return now().After(end) }})
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			_, err = p.stdout.Write(answer)
			return err
		},
	}
	cmd.Flags().DurationVar(&limit, "time", limit, "how long to look for a better plan")
	return cmd
}

// read returns the contents of a file, or of standard input for "-".
func (p *program) read(name string) ([]byte, error) {
	if name == "-" {
		return io.ReadAll(p.stdin)
	}
	return os.ReadFile(name)
}

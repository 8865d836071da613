// Command coverage simulates books whose truth is known and prints, as two
// Markdown tables, how often the 95 % ranges of delaybook hold it and how well
// rigs that were never measured are predicted. It exits with status 1 when a
// range covers less, or without a careful rule more, than 95 % allows.
//
// A full run takes the better part of an hour on one core; -replicates and -only make it shorter.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"

	"delaybook/domain/estimate/study"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	if err != nil && !errors.Is(err, flag.ErrHelp) {
		fmt.Fprintln(os.Stderr, "coverage:", err)
		os.Exit(1)
	}
}

// errCovers is what a study with a failed range ends with, its tables printed.
var errCovers = errors.New("ranges do not cover what they say")

type options struct {
	seed                uint64
	replicates, network int
	workers             int
	only                string
}

func run(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	var o options
	flags := flag.NewFlagSet("coverage", flag.ContinueOnError)
	flags.SetOutput(stderr)
	flags.Uint64Var(&o.seed, "seed", 7_700_417, "seed of the simulation")
	flags.IntVar(&o.replicates, "replicates", 2000, "books per situation of the coverage study; 0 leaves it out")
	flags.IntVar(&o.network, "network", 200, "books per situation of the network study; 0 leaves it out")
	flags.IntVar(&o.workers, "workers", 1, "situations simulated at once")
	flags.StringVar(&o.only, "only", "", "only situations whose name contains this text")
	if err := flags.Parse(args); err != nil {
		return err
	}
	if o.replicates < 0 || o.network < 0 || o.workers < 1 {
		return errors.New("send -replicates and -network of 0 or more and -workers of 1 or more")
	}
	failed, err := coverage(ctx, o, stdout)
	if err != nil {
		return err
	}
	if err := networks(ctx, o, stdout); err != nil {
		return err
	}
	if failed > 0 {
		return fmt.Errorf("%d %w", failed, errCovers)
	}
	return nil
}

func coverage(ctx context.Context, o options, stdout io.Writer) (failed int, err error) {
	if o.replicates == 0 {
		return 0, nil
	}
	all := study.Cells()
	var cells []int // a row is the same whichever others are asked for
	for k, c := range all {
		if strings.Contains(c.Name, o.only) {
			cells = append(cells, k)
		}
	}
	if _, err := fmt.Fprintf(stdout, "%d books per row, seed %d\n\n%s", o.replicates, o.seed, study.CoverageHead); err != nil {
		return 0, err
	}
	err = each(ctx, o.workers, cells, func(_, k int) ([]study.Result, error) {
		return all[k].Run(o.seed+uint64(k), o.replicates)
	}, func(results []study.Result) error {
		for _, r := range results {
			if r.Failed() {
				failed++
			}
			if _, err := io.WriteString(stdout, r.Line()); err != nil {
				return err
			}
		}
		return nil
	})
	return failed, err
}

func networks(ctx context.Context, o options, stdout io.Writer) error {
	if o.network == 0 {
		return nil
	}
	if _, err := fmt.Fprintf(stdout, "\n%d books per row, seed %d\n\n%s", o.network, o.seed, study.NetworkHead); err != nil {
		return err
	}
	return each(ctx, o.workers, study.Networks(), func(k int, n study.Network) (study.NetworkResult, error) {
		return n.Run(o.seed+uint64(k), o.network)
	}, func(r study.NetworkResult) error {
		_, err := io.WriteString(stdout, r.Line())
		return err
	})
}

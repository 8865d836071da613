package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"

	"github.com/spf13/cobra"
)

// The exit codes of every command.
const (
	exitDone    = 0
	exitRefused = 1 // refused or failed; the reason is on stderr
	exitUsage   = 2 // the words of the command are wrong
)

// A program is what the commands stand on: everything from outside comes in here.
type program struct {
	getenv         func(string) string
	stdin          io.Reader
	stdout, stderr io.Writer
	log            *slog.Logger
}

// run runs one command and returns its exit code.
func run(ctx context.Context, args []string, getenv func(string) string, stdin io.Reader, stdout, stderr io.Writer) int {
	p := &program{getenv: getenv, stdin: stdin, stdout: stdout, stderr: stderr, log: slog.New(slog.NewTextHandler(stderr, nil))}
	root := p.root()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitDone
	}
	fmt.Fprintf(stderr, "delaybook: %v\n", err)
	if _, ok := errors.AsType[*usageError](err); ok {
		fmt.Fprintln(stderr, "Run 'delaybook --help', or a command with --help, for its words.")
		return exitUsage
	}
	return exitRefused
}

// A usageError says that the words of a command are wrong.
type usageError struct{ err error }

func (e *usageError) Error() string { return e.err.Error() }
func (e *usageError) Unwrap() error { return e.err }

func usage(format string, args ...any) error { return &usageError{fmt.Errorf(format, args...)} }

func (p *program) root() *cobra.Command {
	root := &cobra.Command{
		Use:           "delaybook",
		Short:         "Keep the measured delays of a company's rigs, and say what to set",
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          exactly(0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := cmd.Help(); err != nil {
				return err
			}
			return usage("a command is missing")
		},
	}
	root.CompletionOptions.DisableDefaultCmd = true
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return &usageError{err} })
	root.AddCommand(p.serve(), p.demo(), p.migrate(), p.key(), p.convert(), p.solve(), p.plan(), p.analyse(), p.export(), p.imports())
	return root
}

// exactly accepts n arguments besides the flags.
func exactly(n int) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) > n {
			return usage("%s: unknown word %q", cmd.CommandPath(), args[n])
		}
		if len(args) < n {
			return usage("%s: %s", cmd.CommandPath(), cmd.Use)
		}
		return nil
	}
}

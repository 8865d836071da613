package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"delaybook/api"
	"delaybook/cmd/internal/cardfile"
	"delaybook/cmd/internal/decoder"
	"delaybook/domain/card"
	"delaybook/domain/timebase"

	"github.com/mattn/go-isatty"
	"github.com/schollz/progressbar/v3"
	"github.com/spf13/cobra"
)

// cardFlags say which file of the card is made.
type cardFlags struct{ rate, container, out, decoder string }

func (p *program) card() *cobra.Command {
	var flags cardFlags
	cmd := &cobra.Command{
		Use:   "card",
		Short: "Write a file of the flash-and-beep card, and the list of its events",
		Long: "Write a file of the flash-and-beep card, and the list of its events beside it.\n" +
			"Standard output has the names of both. It needs no service and no database.",
		Example: "  delaybook card --rate 25\n  delaybook card --rate 59.94 -o card.mp4",
		Args:    exactly(0),
		RunE: func(cmd *cobra.Command, _ []string) error {
			rate, c, err := flags.parse()
			if err != nil {
				return &usageError{err}
			}
			return p.writeCard(cmd.Context(), rate, c, &flags)
		},
	}
	cmd.Flags().StringVar(&flags.rate, "rate", "29.97", "frame rate, another one than the camera's: 23.976, 24, 25, 29.97, 30, 50, 59.94 or 60")
	cmd.Flags().StringVar(&flags.container, "container", "", "mov (uncompressed sound) or mp4 (AAC) (default: what --output ends in, else mov)")
	cmd.Flags().StringVarP(&flags.out, "output", "o", "", "file to write (default: a name with the rate, in this folder)")
	registerDecoder(cmd.Flags(), &flags.decoder)
	return cmd
}

func (f *cardFlags) parse() (timebase.Rate, card.Container, error) {
	rate, err := card.ParseRate(f.rate)
	if err != nil {
		return rate, "", fmt.Errorf("--rate %w", err)
	}
	ending := strings.TrimPrefix(filepath.Ext(f.out), ".")
	switch {
	case f.container == "" && f.out == "":
		f.container = string(card.MOV)
	case f.container == "":
		f.container = ending
	}
	c, err := card.ParseContainer(f.container)
	if err != nil {
		return rate, c, fmt.Errorf("--container %w", err)
	}
	if f.out == "" {
		f.out = card.FileName(rate, c)
	} else if !strings.EqualFold(ending, string(c)) {
		return rate, c, fmt.Errorf("--output %q: a player goes by the end of the name; send one that ends in .%s", f.out, c)
	}
	return rate, c, nil
}

func (p *program) writeCard(ctx context.Context, rate timebase.Rate, c card.Container, flags *cardFlags) error {
	f, err := card.NewFile(rate)
	if err != nil {
		return err
	}
	encoder, err := decoder.Open(decoder.Options{Native: flags.decoder})
	if err != nil {
		return err
	}
	out := flags.out
	progress, finish := p.progress(f.Frames)
	err = cardfile.Write(ctx, cardfile.With(encoder, cardfile.Enlarge), rate, c, out, progress)
	if err := errors.Join(err, finish()); err != nil {
		return err
	}
	list := strings.TrimSuffix(out, filepath.Ext(out)) + ".csv"
	if err := os.WriteFile(list, card.TruthCSV(f), 0o644); err != nil {
		return err
	}
	for _, x := range card.Cautions() {
		fmt.Fprintf(p.stderr, "caution, %s: %s\n", x.Code, x.Text)
	}
	_, err = fmt.Fprintf(p.stdout, "%s\n%s\n", out, list)
	return err
}

// progress returns what is told how much of whole is done, and what to call at
// the end. Where nobody looks, nothing is shown.
func (p *program) progress(whole int64) (tell func(done int64), finish func() error) {
	if !isTerminal(p.stderr) {
		return nil, func() error { return nil }
	}
	bar := progressbar.NewOptions64(whole,
		progressbar.OptionSetWriter(p.stderr), progressbar.OptionSetDescription("making the card"),
		progressbar.OptionClearOnFinish(), progressbar.OptionShowCount())
	return func(done int64) { _ = bar.Set64(done) }, bar.Finish
}

func isTerminal(w io.Writer) bool {
	file, ok := w.(*os.File)
	return ok && isatty.IsTerminal(file.Fd())
}

// cardWait is how long a request waits for a file of the card to be made: there
// has to be time left to send it.
const cardWait = 40 * time.Second

// openCards opens the files of the card, which are kept in the data folder and
// made until ctx ends. Without a decoder there are none: all else goes on.
func (p *program) openCards(ctx context.Context, native, data string) (api.CardShelf, error) {
	d, err := decoder.Open(decoder.Options{Native: native, CacheDir: filepath.Join(data, "decoder")})
	if err != nil {
		p.log.WarnContext(ctx, "files of the card can not be made", "err", err)
		return nil, nil
	}
	return cardfile.Open(ctx, filepath.Join(data, "card"), cardfile.With(d, cardfile.Enlarge), cardWait)
}

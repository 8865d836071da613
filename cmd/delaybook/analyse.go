package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"delaybook/api"
	"delaybook/cmd/internal/analyst"
	"delaybook/cmd/internal/decoder"
	"delaybook/domain/recording"
	"delaybook/domain/service"

	"github.com/schollz/progressbar/v3"
	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// analyseFlags say what to look at.
type analyseFlags struct {
	json     bool
	method   string
	segments []string
	decoder  string
}

func (p *program) analyse() *cobra.Command {
	var flags analyseFlags
	cmd := &cobra.Command{
		Use:   "analyse FILE [FILE2]",
		Short: "Measure a recording of the card, or two tracks of one sound; no service is needed",
		Long: "Measure the offset in a recording of the flash-and-beep card, or between two sound tracks, of one\n" +
			"file or of two. It is what the service does with a recording, without the service. A recording\n" +
			"that gives no number is refused with the reason, and the exit code is 1.",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return usage("%s: %s", cmd.CommandPath(), cmd.Use)
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return p.runAnalyse(cmd.Context(), args, &flags) },
	}
	cmd.Flags().BoolVar(&flags.json, "json", false, "print the whole result as JSON")
	cmd.Flags().StringVar(&flags.method, "method", "", "clip, a recording of the card, or tracks, two sound tracks (default: tracks with two files, else clip)")
	cmd.Flags().StringArrayVar(&flags.segments, "segment", nil, "stretch to measure by itself, seconds, such as 12.5-30; may be repeated")
	registerDecoder(cmd.Flags(), &flags.decoder)
	return cmd
}

func (f *analyseFlags) request(files []string) (service.AnalysisRequest, error) {
	r := service.AnalysisRequest{Files: files}
	switch r.Method = recording.Method(f.method); {
	case f.method == "" && len(files) == 1:
		r.Method = recording.ByClip
	case f.method == "" || r.Method == recording.ByTracks:
		r.Method = recording.ByTracks
	case r.Method != recording.ByClip:
		return r, usage("--method: %q is neither clip nor tracks", f.method)
	case len(files) != 1:
		return r, usage("--method clip measures one file")
	}
	for _, text := range f.segments {
		span, err := api.ParseSpan(text)
		if err != nil || !(span.FromS >= 0 && span.ToS > span.FromS) {
			return r, usage("--segment: %q is no stretch: write from and to in seconds, such as 12.5-30", text)
		}
		r.Segments = append(r.Segments, span)
	}
	return r, nil
}

func (p *program) runAnalyse(ctx context.Context, files []string, flags *analyseFlags) error {
	request, err := flags.request(files)
	if err != nil {
		return err
	}
	for _, name := range files {
		if _, err := os.Stat(name); err != nil {
			return err
		}
	}
	d, err := decoder.Open(decoder.Options{Native: flags.decoder})
	if err != nil {
		return err
	}
	a := analyst.New(d, nil, now)
	if text := a.Advice(ctx, request); text != "" {
		fmt.Fprintln(p.stderr, text)
	}
	bar := p.bar()
	result, err := a.Analyse(ctx, request, bar.show)
	bar.clear()
	if err != nil {
		return err
	}
	if flags.json {
		out := json.NewEncoder(p.stdout)
		out.SetEscapeHTML(false)
		err = out.Encode(result)
	} else if result.Refused == nil {
		err = writeResult(p.stdout, &result)
	}
	if err == nil && result.Refused != nil {
		err = fmt.Errorf("%s %s (%s)", result.Refused.Text, result.Refused.Try, result.Refused.Code)
	}
	return err
}

// writeResult says a result as people do: directions in words, never a sign.
func writeResult(w io.Writer, r *recording.Result) error {
	var b strings.Builder
	for i := range r.Segments {
		f := &r.Segments[i]
		if len(r.Segments) > 1 {
			fmt.Fprintf(&b, "%.1f to %.1f s, %s\n  ", f.FromS, f.ToS, trackWords(f.Sound))
		}
		fmt.Fprintf(&b, "%s, within %.1f ms either way (95 %% of recordings like this one)\n", f.Said, 2*f.UMS)
		used := 0
		for _, e := range f.Events {
			if e.Used {
				used++
			}
		}
		fmt.Fprintf(&b, "  %d events, which differ by %.1f ms among themselves\n", used, f.EventSDMS)
	}
	if r.FrameRate != "" {
		fmt.Fprintf(&b, "picture at %s frames a second, ", r.FrameRate)
	}
	fmt.Fprintf(&b, "%.1f s looked at\n", r.DurationS)
	for _, warning := range r.Warnings {
		fmt.Fprintf(&b, "%s: %s %s\n", warning.Code, warning.Text, warning.Try)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func trackWords(t recording.Track) string {
	return fmt.Sprintf("sound stream %d, channel %d", t.Stream+1, t.Channel+1)
}

// A progress shows how far long work is, on a terminal only.
type progress struct{ bar *progressbar.ProgressBar }

func (p *program) bar() progress {
	file, ok := p.stderr.(*os.File)
	if !ok || !term.IsTerminal(int(file.Fd())) {
		return progress{}
	}
	const steps = 1000
	return progress{progressbar.NewOptions(steps, progressbar.OptionSetWriter(file), progressbar.OptionSetWidth(30),
		progressbar.OptionSetPredictTime(false), progressbar.OptionClearOnFinish())}
}

func (b progress) show(p service.Progress) {
	if b.bar == nil {
		return
	}
	left := time.Duration((1 - p.Done) * float64(p.Estimate)).Round(time.Second)
	b.bar.Describe(fmt.Sprintf("decoding, about %s left", left))
	_ = b.bar.Set(int(p.Done * float64(b.bar.GetMax()))) // a terminal that is gone sees nothing
}

func (b progress) clear() {
	if b.bar != nil {
		_ = errors.Join(b.bar.Finish(), b.bar.Close())
	}
}

package main

import (
	"encoding/json"
	"fmt"
	"io"

	"delaybook/domain/convert"

	"github.com/spf13/cobra"
)

func (p *program) convert() *cobra.Command {
	var q convert.Query
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "convert",
		Short: "Convert a delay between frames, ms, samples and air",
		Example: "  delaybook convert --frames 5 --rate 29.97\n" +
			"  delaybook convert --metres 18 --air-c 25 --rate 25",
		Args: exactly(0),
		RunE: func(*cobra.Command, []string) error {
			result, err := convert.Convert(q)
			if err != nil {
				return &usageError{err}
			}
			if asJSON {
				out := json.NewEncoder(p.stdout)
				out.SetIndent("", "  ")
				return out.Encode(result)
			}
			return writeConversion(p.stdout, result)
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&q.Frames, "frames", "", "frames, at --rate")
	flags.StringVar(&q.MS, "ms", "", "milliseconds")
	flags.StringVar(&q.Samples, "samples", "", "samples, at --sample-rate")
	flags.StringVar(&q.Metres, "metres", "", "metres of air")
	flags.StringVar(&q.Feet, "feet", "", "feet of air")
	flags.StringVar(&q.Rate, "rate", "", "frame rate: 29.97, 25, 30000/1001")
	flags.StringVar(&q.SampleRate, "sample-rate", "", "samples per second (default "+convert.DefaultSampleRate+")")
	flags.StringVar(&q.AirC, "air-c", "", "air temperature in degrees Celsius (default 20)")
	flags.BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

func writeConversion(w io.Writer, r convert.Result) error {
	lines := fmt.Sprintf("%.4f ms\n", r.MS)
	if f := r.Frames; f != nil {
		lines += fmt.Sprintf("%.4f frames at %s (nearest: %d, %.4f ms)\n", f.Value, f.Label, f.Nearest, f.NearestMS)
	}
	lines += fmt.Sprintf("%.2f samples at %s Hz (nearest: %d)\n", r.Samples.Value, r.Samples.SampleRate, r.Samples.Nearest)
	if a := r.Air; a != nil {
		lines += fmt.Sprintf("%.3f m (%.2f ft) of air at %g degrees Celsius\n", a.Metres, a.Feet, a.Celsius)
	}
	_, err := io.WriteString(w, lines)
	return err
}

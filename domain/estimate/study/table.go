package study

import (
	"fmt"
	"strings"
)

// CoverageTable writes results as a Markdown table: coverage and mean
// half-width of the range of the mean, of the next power-up and of the pooled
// t interval.
func CoverageTable(results []Result) string {
	var b strings.Builder
	b.WriteString("| situation | of | other rigs | measurements | events | ci95 % | half ms | next95 % | half ms | pooled t % | half ms | verdict |\n")
	b.WriteString("| --- | --- | --: | --: | --: | --: | --: | --: | --: | --: | --: | --- |\n")
	for _, r := range results {
		fmt.Fprintf(&b, "| %s | %s | %d | %d | %d | %s | %s | %s | %s |\n",
			r.Cell.Name, r.Target, r.Cell.Others, r.Cell.Measurements, r.Cell.Events,
			shares(r.Mean), shares(r.Next), shares(r.Naive), verdict(r))
	}
	return b.String()
}

func shares(t Tally) string {
	if t.Trials == 0 {
		return "- | -"
	}
	return fmt.Sprintf("%.1f | %.2f", 100*t.Coverage(), t.MeanHalfWidthMS())
}

func verdict(r Result) string {
	mean, next := r.Mean.Judge(r.Cell.Careful), r.Next.Judge(r.Cell.Careful)
	if mean == next {
		return string(mean)
	}
	return fmt.Sprintf("mean %s, next %s", mean, next)
}

// NetworkTable writes results as a Markdown table. Least squares are shown
// twice: where the measurements determine the rig, and its answer of least norm
// everywhere.
func NetworkTable(results []NetworkResult) string {
	var b strings.Builder
	b.WriteString("| rigs | bad % | rigs asked | ci95 % | next95 % | ours RMS ms | stated sums RMS ms | least squares RMS ms (share it determines) | its least-norm answer RMS ms | bad found | wrongly flagged |\n")
	b.WriteString("| --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: |\n")
	for _, r := range results {
		determined := 100 * float64(r.Least.Count) / float64(max(1, r.Mean.Trials))
		fmt.Fprintf(&b, "| %d | %g | %d | %.1f | %.1f | %.2f | %.2f | %.2f (%.0f %%) | %.2f | %d of %d | %d of %d |\n",
			r.Network.Rigs, r.Network.BadPercent, r.Mean.Trials, 100*r.Mean.Coverage(), 100*r.Next.Coverage(),
			r.Ours.RMS(), r.Stated.RMS(), r.Least.RMS(), determined, r.Shortest.RMS(),
			r.FlagsRight, r.Bad, r.FlagsWrong, r.Measurements-r.Bad)
	}
	return b.String()
}

package study

import "fmt"

// CoverageHead is the head of a Markdown table of results: coverage and mean
// half-width of the range of the mean, of the next power-up and of the pooled t
// interval.
const CoverageHead = "| situation | of | other rigs | measurements | events " +
	"| ci95 % | half ms | next95 % | half ms | pooled t % | half ms | verdict |\n" +
	"| --- | --- | --: | --: | --: | --: | --: | --: | --: | --: | --: | --- |\n"

// Line is the result's line under [CoverageHead].
func (r Result) Line() string {
	return fmt.Sprintf("| %s | %s | %d | %d | %d | %s | %s | %s | %s |\n",
		r.Cell.Name, r.Target, r.Cell.Others, r.Cell.Measurements, r.Cell.Events,
		shares(r.Mean), shares(r.Next), shares(r.Naive), verdict(r))
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

// NetworkHead is the head of a Markdown table of network results. Least squares
// are shown twice: where the measurements determine the rig, and its answer of
// least norm everywhere.
const NetworkHead = "| rigs | bad % | rigs asked | ci95 % | next95 % | ours RMS ms | stated sums RMS ms " +
	"| least squares RMS ms (share it determines) | its least-norm answer RMS ms | bad found | wrongly flagged |\n" +
	"| --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: |\n"

// Line is the result's line under [NetworkHead].
func (r NetworkResult) Line() string {
	least := "- (0 %)"
	if r.Least.Count > 0 {
		least = fmt.Sprintf("%.2f (%.0f %%)", r.Least.RMS(), 100*float64(r.Least.Count)/float64(r.Mean.Trials))
	}
	return fmt.Sprintf("| %d | %g | %d | %.1f | %.1f | %.2f | %.2f | %s | %.2f | %d of %d | %d of %d |\n",
		r.Network.Rigs, r.Network.BadPercent, r.Mean.Trials, 100*r.Mean.Coverage(), 100*r.Next.Coverage(),
		r.Ours.RMS(), r.Stated.RMS(), least, r.Shortest.RMS(),
		r.FlagsRight, r.Bad, r.FlagsWrong, r.Measurements-r.Bad)
}

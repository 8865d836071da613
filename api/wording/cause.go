package wording

import (
	"strings"

	"delaybook/domain/estimate"
)

var causes = map[string]string{
	estimate.CauseSign:        "perhaps early and late were swapped",
	estimate.CauseFrameRate:   "perhaps the frames were of another rate",
	estimate.CauseWholeFrames: "perhaps it was miscounted by whole frames",
	estimate.CauseSeconds:     "perhaps seconds were given for milliseconds",
	estimate.CauseInterlaced:  "perhaps fields were counted for frames",
	estimate.CauseControlStep: "perhaps a control steps by another amount than written down",
	estimate.CauseDestination: "perhaps it was read at another destination",
}

// Cause says why a measurement does not fit the others, as far as that is known.
func Cause(code string) string {
	if words, ok := causes[code]; ok {
		return words
	}
	return "why is not known; something may have changed that nobody wrote down"
}

var flags = map[string]string{
	estimate.FlagReadingsDisagree: "its readings differ by more than a frame",
	estimate.FlagDoubtful:         "it does not fit the others and counts for less",
	estimate.FlagDrift:            "it drifts while it was recorded",
	estimate.FlagCardUnnamed:      "the card source was not named",
}

// Flag says a flag of a measurement, a cause among them.
func Flag(code string) string {
	if words, ok := flags[code]; ok {
		return words
	}
	if words, ok := causes[code]; ok {
		return words
	}
	return strings.ReplaceAll(code, "-", " ")
}

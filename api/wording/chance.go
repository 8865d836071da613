package wording

import (
	"math"
	"strconv"
)

// Chance says a chance, 0 to 1, in per cent: rounded down to a whole number, to
// tenths near certainty, and never as certain or impossible.
func Chance(chance float64) string {
	const tenths = 1000
	parts := math.Floor(chance * tenths)
	switch {
	case parts >= tenths-1:
		return "over 99.9 %"
	case parts < 10:
		return "under 1 %"
	case parts >= 990:
		return strconv.FormatFloat(parts/10, 'f', 1, 64) + " %"
	}
	return strconv.FormatFloat(math.Floor(parts/10), 'f', 0, 64) + " %"
}

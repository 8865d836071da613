package api

import (
	"fmt"
	"math"
	"strconv"

	"delaybook/domain/timebase"
)

// heardMS is how close to 0 an offset is called in sync, ms: what one decimal shows.
const heardMS = 0.05

// heard says how the sound comes at an offset.
func heard(offsetMS float64) string {
	switch {
	case math.Abs(offsetMS) < heardMS:
		return "in-sync"
	case offsetMS > 0:
		return "early"
	}
	return "late"
}

// offsetWords says an offset as people do: a direction and a size, never a sign.
func offsetWords(offsetMS float64, rate timebase.Rate) string {
	how := heard(offsetMS)
	if how == "in-sync" {
		return "in sync"
	}
	size := math.Abs(offsetMS)
	frames := strconv.FormatFloat(math.Round(10*size/rate.FrameMS())/10, 'f', -1, 64)
	unit := "frames"
	if frames == "1" {
		unit = "frame"
	}
	return fmt.Sprintf("sound %s %s %s (%.1f ms)", how, frames, unit, size)
}

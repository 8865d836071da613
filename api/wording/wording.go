// Package wording says what the book knows as people say it: in the sheet, on
// pages and in the JSON that people read. A direction and a size, never a sign;
// frames beside ms. It decides nothing and computes nothing but what is shown.
package wording

import (
	"fmt"
	"math"
	"strconv"

	"delaybook/domain"
	"delaybook/domain/timebase"
)

// heardMS is how close to 0 an offset is called in sync, ms: what one decimal shows.
const heardMS = 0.05

// Heard says how the sound comes at an offset.
func Heard(offsetMS float64) string {
	switch {
	case math.Abs(offsetMS) < heardMS:
		return "in-sync"
	case offsetMS > 0:
		return "early"
	}
	return "late"
}

// Comparison says what a measurement read as people do: of two sounds or
// two pictures, which came first.
func Comparison(m *domain.Measurement, offsetMS float64) string {
	switch how := Heard(offsetMS); {
	case m.FirstSig == domain.Picture && m.SecondSig == domain.Sound:
		return Offset(offsetMS, m.FrameRate)
	case how == "in-sync":
		return fmt.Sprintf("%s together with %s", m.First, m.Second)
	case how == "early":
		return fmt.Sprintf("%s after %s by %.1f ms", m.First, m.Second, offsetMS)
	}
	return fmt.Sprintf("%s before %s by %.1f ms", m.First, m.Second, -offsetMS)
}

// Offset says an offset as people do: a direction and a size, never a sign.
func Offset(offsetMS float64, rate timebase.Rate) string {
	how := Heard(offsetMS)
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

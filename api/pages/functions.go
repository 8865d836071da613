package pages

import (
	"html/template"
	"math"
	"strconv"
	"time"

	"delaybook/api/wording"
	"delaybook/domain/ladder"
)

// functions are what templates may call.
func functions(a *assets) template.FuncMap {
	return template.FuncMap{
		"asset":   a.path,
		"day":     func(t time.Time) string { return t.Format("2 January 2006") },
		"flag":    wording.Flag,
		"jobdate": jobDate,
		"kind":    lengthWords,
		"moment":  func(t time.Time) string { return t.Format("2 January 2006, 15:04") },
		"ms":      func(ms float64) string { return strconv.FormatFloat(math.Round(10*ms)/10, 'f', 1, 64) },
		"once":    newOnce,
		"stamp":   func(t time.Time) string { return t.Format(time.RFC3339) },
	}
}

// jobDate says a date that is kept as 2026-11-28.
func jobDate(date string) string {
	day, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return day.Format("Monday 2 January 2006")
}

// lengthWords says what a length of a ladder is.
func lengthWords(l ladder.Length) string {
	switch l.Kind {
	case ladder.Air:
		return "way through the air"
	case ladder.Dialled:
		return l.Name + ", dialled in"
	case ladder.Together:
		return l.Name + ", not measured apart"
	}
	return l.Name
}

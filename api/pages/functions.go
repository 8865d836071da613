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
		"asset":    a.path,
		"day":      func(t time.Time) string { return t.Format("2 January 2006") },
		"flag":     wording.Flag,
		"jobdate":  jobDate,
		"kind":     lengthWords,
		"moment":   moment,
		"ms":       func(ms float64) string { return strconv.FormatFloat(math.Round(10*ms)/10, 'f', 1, 64) },
		"sentence": sentence,
		"once":     newOnce,
		"when":     when,
	}
}

// moment says an instant with its offset from UTC.
func moment(t time.Time) string {
	zone := "UTC"
	if _, offset := t.Zone(); offset != 0 {
		zone = t.Format("-07:00")
	}
	return t.Format("2 January 2006, 15:04 ") + zone
}

// when is a moment that the script of the pages says in the time of the phone.
func when(t time.Time) template.HTML {
	return template.HTML(`<time datetime="` + t.Format(time.RFC3339) + `">` + moment(t) + `</time>`)
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

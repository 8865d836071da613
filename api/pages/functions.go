package pages

import (
	"html/template"
	"time"

	"delaybook/api/wording"
)

// jobDate says a date that is kept as 2026-11-28.
func jobDate(date string) string {
	day, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return day.Format("Monday 2 January 2006")
}

// functions are what templates may call.
func functions(a *assets) template.FuncMap {
	return template.FuncMap{
		"asset":   a.path,
		"chance":  wording.Chance,
		"jobdate": jobDate,
		"day":     func(t time.Time) string { return t.Format("2 January 2006") },
		"moment":  func(t time.Time) string { return t.Format("2 January, 15:04") },
		"stamp":   func(t time.Time) string { return t.Format(time.RFC3339) },
	}
}

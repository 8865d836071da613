package pages

import (
	"net/http"
	"time"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/service"
)

// A historyPage is what was measured, changed and checked on a rig.
type historyPage struct {
	service.RigView
	Measurements []measurementLine
	Earlier      int // measurements that are not listed
	Checks       []checkLine
	Revisions    []revisionLine // newest first
}

// Path is where the page of the rig is.
func (p historyPage) Path() string { return rigPath(p.RigView) }

// A measurementLine is one measurement in a list.
type measurementLine struct {
	ID    string
	Words string
	Pair  string
	Who   string
	At    time.Time
	Note  string
	Flags []string
	Out   string // why it was struck out
}

// A checkLine compares what was predicted with what was read.
type checkLine struct {
	At        time.Time
	ID        string
	Pair      string
	Read      string
	Predicted string // empty: nothing else tells
	Inside    bool
	Surprise  string
}

type revisionLine struct {
	Number int
	At     time.Time
	Who    string
}

// listed is how many measurements the page lists: what a phone scrolls through.
const listed = 50

func showHistory(v *visit) error {
	ctx, r := v.Request().Context(), v.request()
	rig, err := v.pages.use.Rig(ctx, r, v.Param("rig"))
	if err != nil {
		return err
	}
	r.At = rig.Book.Version()
	page := historyPage{RigView: rig}
	all, err := v.pages.use.Measurements(ctx, r, rig.ID.String())
	if err != nil {
		return err
	}
	page.Earlier = max(0, len(all)-listed)
	for _, m := range all[:len(all)-page.Earlier] {
		page.Measurements = append(page.Measurements, v.measurementLine(m))
	}
	checks, err := v.pages.use.Checks(ctx, r, rig.ID.String())
	if err != nil {
		return err
	}
	for _, c := range checks[:min(len(checks), listed)] {
		page.Checks = append(page.Checks, viewCheck(c))
	}
	for i := len(rig.Revisions) - 1; i >= 0; i-- {
		revision := rig.Revisions[i]
		page.Revisions = append(page.Revisions, revisionLine{revision.Number, revision.At, v.pages.use.KeyLabel(revision.By)})
	}
	return v.show(http.StatusOK, "history", page)
}

func pairWords(m *domain.Measurement) string {
	return string(m.First) + " with " + string(m.Second) + ", read at " + string(m.ReadAt)
}

func (v *visit) measurementLine(m service.MeasurementView) measurementLine {
	line := measurementLine{
		ID: m.ID.String(), Words: sentence(wording.Comparison(m.Measurement, m.MeanMS())), Pair: pairWords(m.Measurement),
		Who: v.pages.use.KeyLabel(m.By), At: m.TakenAt, Note: m.Note, Flags: m.Flags,
	}
	if m.Struck != nil {
		line.Out = m.Struck.Reason
	}
	return line
}

func viewCheck(c service.CheckRecord) checkLine {
	m := c.Measurement.Measurement
	line := checkLine{
		At: m.TakenAt, ID: m.ID.String(), Pair: pairWords(m), Inside: c.Inside,
		Read: wording.Comparison(m, c.MeasuredMS),
	}
	if c.Predicted {
		line.Predicted = wording.Comparison(m, c.PredictedMS)
	}
	if c.Surprise != "" {
		line.Surprise = wording.Cause(c.Surprise)
	}
	return line
}

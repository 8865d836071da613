package pages

import (
	"fmt"
	"html/template"

	"delaybook/api/wording"
	"delaybook/domain/ladder"
	"delaybook/domain/service"
	"delaybook/domain/timebase"
)

// A ladderView is an arrival ladder with the same in a table.
type ladderView struct {
	ID          string
	Destination string
	Picture     template.HTML // made by package ladder, which escapes what it is given
	Rows        []ladder.Row
	LeftOut     bool
}

// viewLadder draws the arrivals at a destination; id is different for each on a page.
func viewLadder(a service.Arrivals, rate timebase.Rate, id string) (ladderView, error) {
	view := ladderView{ID: id, Destination: string(a.Destination), Rows: a.Ladder.Rows, LeftOut: a.Ladder.LeftOut}
	for _, g := range a.Gaps {
		text := fmt.Sprintf("%s against %s: %s", sentence(wording.Offset(g.Pair.AfterMS, rate)), g.Pair.Picture, g.Pair.Verdict)
		a.Ladder.Rows[g.Row].Gap = &ladder.Gap{ToMS: g.ToMS, Text: text}
	}
	picture, err := a.Ladder.SVG(id, "When pictures and sounds arrive at "+view.Destination+"; the table below says the same.")
	view.Picture = template.HTML(picture) //nolint:gosec // see Picture
	return view, err
}

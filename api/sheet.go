package api

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/plan"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"
)

// showSheet shows the plan of a rig as text for the crew's chat.
//
//	@Summary	Show the sheet of a rig
//	@Tags		answers
//	@Produce	text/plain
//	@Security	bearer
//	@Param		rig					path		string	true	"slug, CREW.SLUG or identifier"
//	@Param		at					query		int		false	"book version to read"
//	@Success	200					{string}	string	"what to set, where, and what voids it"
//	@Success	304					"unchanged"
//	@Failure	401,404,406,409,422	{object}	Problem
//	@Router		/v1/rigs/{rig}/sheet [get]
func (s *server) showSheet(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	media, err := negotiate(c, textPlain)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, media); done || err != nil {
		return err
	}
	rig, err := s.use.Rig(c.Request().Context(), r, c.Param("rig"))
	if err != nil {
		return err
	}
	r.At = rig.Book.Version() // both from one book, whoever writes in between
	d, err := s.use.Delays(c.Request().Context(), r, rig.ID.String(), "")
	if err != nil {
		return err
	}
	return c.Blob(http.StatusOK, textPlain+"; charset=utf-8", []byte(sheetText(rig, d)))
}

// cautions stand under every sheet.
const cautions = `This sheet is void after switching off, re-plugging, another mode, format or chain, or a new
revision: check again. Read each dial back after setting it. A delay on a desk channel also
reaches what that channel feeds: keep loudspeakers and in-ears live. Raise test tones from
silence, warn people before flashes, no test tone on air. Mains, height and cables: local rules
and licensed practice first. A number does not replace watching the programme.
`

// stateTexts says what each state of a plan means for who stands at the rig.
var stateTexts = map[plan.State]string{
	plan.OK:         "every hard pair stays inside its limit",
	plan.Unsure:     "the best to dial in; more measurements would tell whether every hard pair stays inside its limit",
	plan.Partial:    "some pairs are not known: measure them",
	plan.Infeasible: "NOT every hard pair can be held: see the notes",
	plan.Unknown:    "NOTHING is known yet: measure first",
}

func sheetText(rig service.RigView, d *service.Delays) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s (%s.%s)\n", rig.Name, rig.CrewSlug, rig.Slug)
	fmt.Fprintf(&b, "Revision %d, book %d", d.Revision, d.Version)
	if change, ok := rig.Book.Change(d.Version); ok {
		fmt.Fprintf(&b, " of %s UTC", change.At.UTC().Format("2006-01-02 15:04"))
	}
	if rig.JobDate != "" {
		fmt.Fprintf(&b, ", for the job on %s", rig.JobDate)
	}
	fmt.Fprintf(&b, "\n%s: %s\n\nSet\n", d.State, stateTexts[d.State])
	for _, x := range d.Settings {
		fmt.Fprintf(&b, "- %s\n", settingLine(x))
	}
	b.WriteString("\nThen\n")
	for _, p := range d.Pairs {
		if p.Importance != domain.Ignore {
			fmt.Fprintf(&b, "- %s\n", pairLine(p, rig))
		}
	}
	for _, a := range slices.Concat(d.Notes, d.Plan.Advice) {
		fmt.Fprintf(&b, "- %s\n", a.Text)
	}
	if len(d.Alternatives) > 0 {
		b.WriteString("\nOr try\n")
	}
	for _, a := range d.Alternatives {
		fmt.Fprintf(&b, "- %s\n", a.Text)
	}
	return b.String() + "\n" + cautions
}

func settingLine(x service.DelaySetting) string {
	value := amount(x.Value, x.Control.Unit)
	if x.Control.Unit != domain.UnitMS || x.Value.InexactFloat64() != x.MS {
		value += fmt.Sprintf(" (%.1f ms)", x.MS)
	}
	switch {
	case x.Fixed:
		value = "leave at " + value
	case x.Now != nil && x.Now.Equal(x.Value):
		value = "keep " + value
	case x.Now != nil:
		value += ", now " + x.Now.String()
	}
	line := x.Setting.Control + ": " + value
	if x.Control.Where != "" {
		line += ", " + x.Control.Where
	}
	line += "; reaches " + strings.Join(append(slugs(x.Placed.Chains), slugs(x.Placed.Tails)...), ", ")
	if len(x.Feeds) > 0 {
		line += " and the live " + strings.Join(slugs(x.Feeds), ", ")
	}
	return line
}

// amount writes a value with its unit as people say it.
func amount(value decimal.Decimal, unit domain.ControlUnit) string {
	if unit == domain.UnitMS || value.Equal(decimal.NewFromInt(1)) {
		return value.String() + " " + string(unit)
	}
	return value.String() + " " + string(unit) + "s"
}

func pairLine(p service.DelayPair, rig service.RigView) string {
	name := fmt.Sprintf("%s with %s at %s", p.Picture, p.Sound, p.Destination)
	if !p.Known {
		return name + ": not known yet, measure it"
	}
	return fmt.Sprintf("%s: %s; %s %s, %s; chance %s",
		name, wording.Offset(p.AfterMS, rig.Shown.Layout.FrameRate), p.Verdict, p.Limit.Slug, marginText(p), chanceText(p.Chance))
}

// marginText says how far next95 stays from the nearer bound of the limit.
func marginText(p service.DelayPair) string {
	margin := min(p.Limit.EarlyMS-p.AfterMS, p.AfterMS+p.Limit.LateMS) - p.HalfWidthMS
	if margin < 0 {
		return fmt.Sprintf("the next power-up may be %.1f ms beyond", -margin)
	}
	return fmt.Sprintf("%.1f ms to spare", margin)
}

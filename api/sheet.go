package api

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// showSheet shows the plan of a rig as text for the crew's chat, or as a page to print.
//
//	@Summary		Show the sheet of a rig
//	@Tags			answers
//	@Description	As text/html it is a page to print, with a code that leads to the rig.
//	@Produce		text/plain,text/html
//	@Security		bearer
//	@Param			rig					path		string	true	"slug, CREW.SLUG or identifier"
//	@Param			format				query		string	false	"instead of Accept"	Enums(text,html)
//	@Param			at					query		int		false	"book version to read"
//	@Success		200					{string}	string	"what to set, where, and what voids it"
//	@Success		304					"unchanged"
//	@Failure		401,404,406,409,422	{object}	Problem
//	@Router			/v1/rigs/{rig}/sheet [get]
func (s *server) showSheet(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	media, err := negotiate(c, textPlain, echo.MIMETextHTML)
	if err != nil {
		return err
	}
	if media == echo.MIMETextHTML { // without an ETag: it would outlive the style sheet that the page names
		c.Response().Header().Set(echo.HeaderVary, "Accept, Authorization, Cookie")
		return s.pages.ShowSheet(c, r)
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
	fmt.Fprintf(&b, "\n%s: %s\n\nSet\n", d.State, wording.PlanState(d.State))
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
	return b.String() + "\n" + wording.Cautions
}

func settingLine(x service.DelaySetting) string {
	value := wording.SettingAmount(x)
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
	line += "; reaches " + wording.Reaches(x)
	return line
}

func pairLine(p service.DelayPair, rig service.RigView) string {
	name := fmt.Sprintf("%s with %s at %s", p.Picture, p.Sound, p.Destination)
	if !p.Known {
		return name + ": not known yet, measure it"
	}
	return fmt.Sprintf("%s: %s; %s %s, %s; chance %s",
		name, wording.Offset(p.AfterMS, rig.Shown.Layout.FrameRate), p.Verdict, p.Limit.Slug, wording.Margin(p), chanceText(p.Chance))
}

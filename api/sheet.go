package api

import (
	"fmt"
	"net/http"
	"strings"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
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
	d, err := s.use.Delays(c.Request().Context(), r, c.Param("rig"), "")
	if err != nil {
		return err
	}
	return c.Blob(http.StatusOK, textPlain+"; charset=utf-8", []byte(s.sheetText(rig, d)))
}

// cautions stand under every sheet.
const cautions = `Read each dial back after setting it. Switching off, re-plugging, another mode or format, or
another chain voids this sheet: check again. A delay on a desk channel also reaches what that
channel feeds: keep loudspeakers and in-ears live. Raise test tones from silence, warn people
before flashes, no test tone on air. Mains, height and cables: local rules and licensed practice
first. A number does not replace watching the programme.
`

func (s *server) sheetText(rig service.RigView, d *service.Delays) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s (%s.%s), revision %d, book %d\n", rig.Name, rig.CrewSlug, rig.Slug, d.Revision, d.Version)
	if rig.JobDate != "" {
		fmt.Fprintf(&b, "Job on %s\n", rig.JobDate)
	}
	fmt.Fprintf(&b, "State: %s\n\nSet\n", d.State)
	for _, x := range d.Settings {
		fmt.Fprintf(&b, "- %s\n", settingLine(x))
	}
	b.WriteString("\nThen\n")
	for _, p := range d.Pairs {
		if p.Importance != domain.Ignore {
			fmt.Fprintf(&b, "- %s\n", pairLine(p, rig))
		}
	}
	for _, a := range d.Plan.Advice {
		fmt.Fprintf(&b, "- %s\n", a.Text)
	}
	return b.String() + "\n" + cautions
}

func settingLine(x service.DelaySetting) string {
	line := fmt.Sprintf("%s: %s %s (%.1f ms)", x.Setting.Control, x.Value, x.Control.Unit, x.MS)
	if x.Now != nil && !x.Now.Equal(x.Value) {
		line = fmt.Sprintf("%s: %s -> %s %s (%.1f ms)", x.Setting.Control, x.Now, x.Value, x.Control.Unit, x.MS)
	}
	if x.Control.Where != "" {
		line += ", " + x.Control.Where
	}
	if len(x.Feeds) > 0 {
		line += ", also reaches " + strings.Join(slugs(x.Feeds), ", ")
	}
	return line
}

func pairLine(p service.DelayPair, rig service.RigView) string {
	name := fmt.Sprintf("%s with %s at %s", p.Picture, p.Sound, p.Destination)
	if !p.Known {
		return name + ": not known yet, measure it"
	}
	return fmt.Sprintf("%s: %s, %s %s, chance %.1f %%",
		name, offsetWords(p.AfterMS, rig.Shown.Layout.FrameRate), p.Verdict, p.Limit.Slug, 100*p.Chance)
}

package pages

import (
	"cmp"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"delaybook/api/wording"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A sheetPage is the rig on paper.
type sheetPage struct {
	rigEntry
	Plan     planView
	Settings []settingView
	Ladders  []ladderView
	MadeAt   time.Time // when the book last changed
	Measured []measurementLine
	Cautions []string
	Code     template.HTML
	Address  string
}

// measuredOnSheet is how many measurements the sheet names: those of the last evening or two.
const measuredOnSheet = 6

// ShowSheet answers a request of the API, whose parameter "rig" names a rig, with its sheet as a page.
func (p *Pages) ShowSheet(c echo.Context, r service.Request) error {
	protect(c)
	return showSheet(&visit{Context: c, pages: p, asked: r})
}

func showSheet(v *visit) error {
	ctx, r := v.Request().Context(), v.request()
	rig, err := v.pages.use.Rig(ctx, r, v.Param("rig"))
	if err != nil {
		return err
	}
	r.At = rig.Book.Version() // all of the sheet from one book
	is, err := v.pages.use.Standing(ctx, rig)
	if err != nil {
		return err
	}
	page := sheetPage{rigEntry: rigEntry{rig, standingWords(is)}, Plan: viewPlan(is.Delays), Cautions: wording.CautionList()}
	page.Settings = slices.Concat(page.Plan.Move, page.Plan.Keep)
	if change, ok := rig.Book.Change(rig.Book.Version()); ok {
		page.MadeAt = change.At.UTC()
	}
	if page.Ladders, err = v.ladders(r, rig); err != nil {
		return err
	}
	if page.Measured, err = v.lastMeasured(r, rig); err != nil {
		return err
	}
	page.Address = v.pages.public + page.Path()
	if page.Code, err = qrCode(page.Address, "Code with the address of this rig"); err != nil {
		return err
	}
	return v.show(http.StatusOK, "sheet", page)
}

// lastMeasured lists the latest measurements that count.
func (v *visit) lastMeasured(r service.Request, rig service.RigView) ([]measurementLine, error) {
	all, err := v.pages.use.Measurements(v.Request().Context(), r, rig.ID.String())
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(m service.MeasurementView) bool { return m.Struck != nil })
	slices.SortStableFunc(all, func(x, y service.MeasurementView) int { return cmp.Compare(y.TakenAt.Unix(), x.TakenAt.Unix()) })
	var lines []measurementLine
	for _, m := range all[:min(len(all), measuredOnSheet)] {
		lines = append(lines, v.measurementLine(m))
	}
	return lines, nil
}

// ChatPath is where the sheet is as plain text for the chat.
func (p sheetPage) ChatPath() string {
	return "/v1" + strings.TrimSuffix(p.Path(), "/") + "/sheet?format=text"
}

package pages

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/service"
)

// A measurePage is the form for what was seen and heard.
type measurePage struct {
	service.RigView
	Pairs    []pairChoice
	Dials    []dialField
	Cards    []string // card sources that the company used or stated
	Label    string   // of the frame rate
	Once     string
	Entry    measureEntry
	Problems []problem
}

// Path is where the page of the rig is.
func (p *measurePage) Path() string { return rigPath(p.RigView) }

// Bad reports whether something is wrong with a field.
func (p *measurePage) Bad(field string) bool {
	return slices.ContainsFunc(p.Problems, func(x problem) bool { return x.Field == field })
}

// A measureEntry is what the person chose and typed, kept as it was typed.
type measureEntry struct {
	Pair, Method, Heard, Amount, Unit, Changed, Card, Note string
}

// A pairChoice is a pair and where it is read.
type pairChoice struct {
	Value    string // PICTURE SOUND DESTINATION
	Label    string
	Controls string // names of the controls that it passes, for the script that hides others
}

// A dialField is one control to read back.
type dialField struct {
	Name, Where, Unit, Value string
}

// A problem is what is wrong with the form, with the field that it is about.
type problem struct{ Field, Text string }

func showMeasure(v *visit) error {
	page, err := v.measurePage()
	if err != nil {
		return err
	}
	if again := v.QueryParam("again"); again != "" {
		if err := v.enterAgain(page, again); err != nil {
			return err
		}
	}
	if pair := v.QueryParam("pair"); pair != "" {
		page.Entry.Pair = pair
	}
	return v.show(http.StatusOK, "measure", page)
}

// measurePage is the form as it is before anybody typed.
func (v *visit) measurePage() (*measurePage, error) {
	ctx, r := v.Request().Context(), v.request()
	rig, err := v.pages.use.Rig(ctx, r, v.Param("rig"))
	if err != nil {
		return nil, err
	}
	r.At = rig.Book.Version()
	delays, err := v.pages.use.Delays(ctx, r, rig.ID.String(), "")
	if err != nil {
		return nil, err
	}
	layout := &rig.Shown.Layout
	page := &measurePage{
		RigView: rig, Label: layout.FrameRate.Label(), Once: newOnce(),
		Entry: measureEntry{Method: string(domain.ByEye), Unit: "frames"},
	}
	page.Pairs = pairChoices(layout)
	for _, x := range delays.Settings {
		field := dialField{Name: x.Setting.Control, Where: x.Control.Where, Unit: string(x.Control.Unit)}
		if x.Now != nil {
			field.Value = x.Now.String()
		}
		page.Dials = append(page.Dials, field)
	}
	page.Cards = cardSources(rig)
	for i := len(rig.Measurements) - 1; i >= 0 && page.Entry.Card == ""; i-- {
		page.Entry.Card = string(rig.Measurements[i].CardSource)
	}
	return page, nil
}

// pairChoices are the pairs of a layout, wherever each is read.
func pairChoices(layout *domain.Layout) []pairChoice {
	var choices []pairChoice
	for _, p := range layout.JudgedPairs() {
		at, _ := layout.Destination(p.Destination)
		controls := append(layout.ControlsOf(p.Picture, domain.Picture, at), layout.ControlsOf(p.Sound, domain.Sound, at)...)
		choices = append(choices, pairChoice{
			Value:    fmt.Sprintf("%s %s %s", p.Picture, p.Sound, p.Destination),
			Label:    fmt.Sprintf("%s with %s, %s", p.Picture, p.Sound, p.Destination),
			Controls: joinSlugs(controls),
		})
	}
	return choices
}

func joinSlugs(slugs []domain.Slug) string {
	var words []string
	for _, s := range slugs {
		words = append(words, string(s))
	}
	return strings.Join(words, " ")
}

// cardSources are those that the rig was measured with or that are stated.
func cardSources(rig service.RigView) []string {
	var all []string
	for _, c := range rig.Book.CardSources() {
		all = append(all, string(c.Slug))
	}
	for _, m := range rig.Measurements {
		if m.CardSource != "" {
			all = append(all, string(m.CardSource))
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// enterAgain fills the form with a measurement that was struck, to be put right.
func (v *visit) enterAgain(page *measurePage, id string) error {
	m, err := v.pages.use.Measurement(v.Request().Context(), v.request(), id)
	if err != nil {
		return err
	}
	page.Entry.Pair = fmt.Sprintf("%s %s %s", m.First, m.Second, m.ReadAt)
	page.Entry.Method, page.Entry.Card, page.Entry.Note = string(m.Method), string(m.CardSource), m.Note
	page.Entry.Changed = "not-sure"
	page.Entry.Heard = wording.Heard(m.MeanMS())
	if reading := m.Readings[0]; reading.Frames != nil {
		page.Entry.Amount, page.Entry.Heard = reading.Frames.String(), string(reading.Heard)
	} else {
		page.Entry.Unit, page.Entry.Amount = "ms", strconv.FormatFloat(math.Abs(m.MeanMS()), 'f', 1, 64)
	}
	for i := range page.Dials {
		for _, set := range m.Settings {
			if string(set.Control) == page.Dials[i].Name {
				page.Dials[i].Value = set.Value.String()
			}
		}
	}
	return nil
}

// measure stores what the form says, and shows what follows from it.
func measure(v *visit) error {
	page, err := v.measurePage()
	if err != nil {
		return err
	}
	page.readForm(v)
	in, problems := page.measurement(v)
	if len(problems) == 0 {
		taken, err := v.pages.use.AddMeasurement(v.Request().Context(), v.request(), page.ID.String(), in)
		if err == nil {
			return v.to("/measurements/" + taken.Measurement.ID.String())
		}
		e, ok := errors.AsType[*domain.Error](err)
		if !ok || e.Code != domain.Invalid {
			return err
		}
		problems = page.problemsOf(e)
	}
	if v.wantsJSON() {
		return problemError("The measurement is not stored yet.", problems)
	}
	page.Problems = problems
	return v.show(http.StatusUnprocessableEntity, "measure", page)
}

func (p *measurePage) readForm(v *visit) {
	p.Entry = measureEntry{
		Pair: v.form("pair"), Method: v.form("method"), Heard: v.form("heard"), Amount: v.form("amount"), Unit: v.form("unit"),
		Changed: v.form("changed"), Card: v.form("card_source"), Note: v.form("note"),
	}
	if once := v.form(onceField); once != "" {
		p.Once = once
	}
	for i := range p.Dials {
		p.Dials[i].Value = v.form("dial." + p.Dials[i].Name)
	}
}

package pages

import (
	"errors"
	"fmt"
	"mime/multipart"
	"net/http"
	"slices"
	"strings"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/recording"
	"delaybook/domain/service"

	"github.com/go-json-experiment/json"
	"github.com/labstack/echo/v4"
)

// A quietPage is the form for two tracks of one sound, recorded while the
// audience is there and nothing may be played.
type quietPage struct {
	*recordPage
	Chains              []chainChoice
	Places              []string // destinations
	First, Second, Read string
}

// A chainChoice is a chain of sound with the controls that it passes.
type chainChoice struct{ Name, Label, Controls string }

func (v *visit) quietPage() (*quietPage, error) {
	form, err := v.recordPage()
	if err != nil {
		return nil, err
	}
	layout := &form.Shown.Layout
	page := &quietPage{recordPage: form}
	form.Clips = slices.DeleteFunc(form.Clips, func(c clipLine) bool { return c.Method != string(domain.Tracks) })
	for _, d := range layout.Destinations {
		page.Places = append(page.Places, string(d.Slug))
	}
	for _, c := range layout.Chains {
		if c.Signal == domain.Sound {
			page.Chains = append(page.Chains, chainChoice{string(c.Slug), string(c.Slug), soundControls(layout, c.Slug)})
		}
	}
	page.Chains = append(page.Chains, chainChoice{string(domain.LiveChain), "the stage itself, a microphone straight into the recorder", soundControls(layout, domain.LiveChain)})
	page.Entry.Method = string(domain.Tracks)
	return page, nil
}

// soundControls are the names of what delays a chain on its way to any destination.
func soundControls(layout *domain.Layout, chain domain.Slug) string {
	var names []domain.Slug
	for i := range layout.Destinations {
		names = append(names, layout.ControlsOf(chain, domain.Sound, &layout.Destinations[i])...)
	}
	slices.Sort(names)
	return joinSlugs(slices.Compact(names))
}

func showQuiet(v *visit) error {
	page, err := v.quietPage()
	if err != nil {
		return err
	}
	return v.show(http.StatusOK, "quiet", page)
}

// read reads the form, and says what must be put right first.
func (p *quietPage) read(v *visit) (service.NewClip, []problem) {
	p.readForm(v)
	p.Entry.Method, p.Entry.Pair, p.Entry.Card = string(domain.Tracks), "", ""
	p.First, p.Second, p.Read = v.form("first"), v.form("second"), v.form("read_at")
	in, problems := p.clip(v)
	in.First, in.Second, in.ReadAt = p.First, p.Second, p.Read
	var passed []string
	for _, c := range p.Chains {
		if c.Name == p.First || c.Name == p.Second {
			passed = append(passed, strings.Fields(c.Controls)...)
		}
	}
	in.Settings = slices.DeleteFunc(in.Settings, func(s service.NewSetting) bool { return !slices.Contains(passed, s.Control) })
	switch {
	case p.First == "":
		problems = append(problems, problem{"first", "Say which sound the first track is."})
	case p.Second == "" || p.Second == p.First:
		problems = append(problems, problem{"second", "Say which other sound the second track is."})
	}
	return in, problems
}

// quiet takes in what comes as a plain form; scripts send it bit by bit, see sayQuiet.
func quiet(v *visit) error {
	if err := v.takeTime(); err != nil {
		return err
	}
	page, err := v.quietPage()
	if err != nil {
		return err
	}
	in, problems := page.read(v)
	var files []*multipart.FileHeader
	for _, name := range []string{"file", "file2"} {
		if file, err := v.FormFile(name); err == nil && file.Filename != "" {
			files = append(files, file)
		}
	}
	if len(files) == 0 {
		problems = append(problems, problem{"file", "Pick the recording, or the two."})
	}
	if len(problems) == 0 {
		clip, err := v.addClip(page.ID.String(), in, files...)
		if err == nil {
			return v.to("/clips/" + clip.ID.String())
		}
		e, ok := errors.AsType[*domain.Error](err)
		if !ok || e.Code != domain.Invalid {
			return err
		}
		problems = page.quietProblems(e)
	}
	page.Problems = problems
	return v.show(http.StatusUnprocessableEntity, "quiet", page)
}

// quietProblems says the faults that the use case found, each with its field.
func (p *quietPage) quietProblems(e *domain.Error) []problem {
	var all []problem
	for _, f := range e.Fields {
		field, _, _ := strings.Cut(strings.TrimPrefix(f.Pointer, "/"), "/")
		if at, known := map[string]string{"settings": "dials", "power_up": "changed"}[field]; known {
			field = at
		}
		all = append(all, problem{field, sentence(f.Detail) + ". Give " + f.Send + "."})
	}
	if len(all) == 0 {
		all = []problem{{"form", e.Message}}
	}
	return all
}

// sayQuiet answers with the fields under which a script sends the tracks.
func sayQuiet(v *visit) error {
	page, err := v.quietPage()
	if err != nil {
		return err
	}
	in, problems := page.read(v)
	if len(problems) > 0 {
		return problemError("The tracks are not described well enough.", problems)
	}
	body, err := json.Marshal(clipFields(in), json.Deterministic(true))
	if err != nil {
		return err
	}
	return v.Blob(http.StatusOK, echo.MIMEApplicationJSON, body)
}

// tracksWords say which of two tracks is late, by the names of their chains where
// somebody gave them.
func tracksWords(c *service.Clip, s *recording.Finding) string {
	if c.Ask.First == "" {
		return sentence(s.Said)
	}
	switch how := wording.Heard(s.OffsetMS); how {
	case "early":
		return fmt.Sprintf("%s is late: it comes %.1f ms after %s", sentence(c.Ask.First), s.OffsetMS, c.Ask.Second)
	case "late":
		return fmt.Sprintf("%s is late: it comes %.1f ms after %s", sentence(c.Ask.Second), -s.OffsetMS, c.Ask.First)
	}
	return fmt.Sprintf("%s and %s come together", sentence(c.Ask.First), c.Ask.Second)
}

// A pictureLine says what a comparison of two sounds changed for a picture.
type pictureLine struct{ Pair, Now, Before string }

// picturesOf says what is known of the pairs of two sounds that were compared,
// with the comparison and before it.
func (v *visit) picturesOf(m service.MeasurementView) ([]pictureLine, error) {
	r := v.request()
	now, err := v.pages.use.Offsets(v.Request().Context(), r, m.Rig.ID.String())
	if err != nil {
		return nil, err
	}
	r.At = m.Version - 1
	before, err := v.pages.use.Offsets(v.Request().Context(), r, m.Rig.ID.String())
	if err != nil {
		return nil, err
	}
	rate := now.Rig.Shown.Layout.FrameRate
	words := func(o service.Offset) string {
		if o.Estimate == nil {
			return "not known"
		}
		return fmt.Sprintf("%s, give or take %.1f ms", wording.Offset(o.Estimate.ValueMS, rate), (o.Estimate.Interval[1]-o.Estimate.Interval[0])/2)
	}
	var lines []pictureLine
	for _, o := range now.Offsets {
		if o.Second != m.First && o.Second != m.Second {
			continue
		}
		line := pictureLine{Pair: fmt.Sprintf("%s with %s, %s", o.First, o.Second, o.Destination), Now: words(o)}
		for _, b := range before.Offsets {
			if b.First == o.First && b.Second == o.Second && b.Destination == o.Destination {
				line.Before = words(b)
			}
		}
		lines = append(lines, line)
	}
	return lines, nil
}

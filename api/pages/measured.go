package pages

import (
	"context"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/service"
)

// plainNumber is a number with a point, of one that a person typed with a comma
// or with spaces around it.
func plainNumber(typed string) string {
	return strings.ReplaceAll(strings.TrimSpace(typed), ",", ".")
}

// powerUps are what the answers to "was anything changed" mean.
var powerUps = map[string]string{"no": "same", "yes": "new", "not-sure": ""}

// measurement is what the form says, or what must be put right before it says
// anything.
func (p *measurePage) measurement(v *visit) (service.NewMeasurement, []problem) {
	var problems []problem
	pair := strings.Fields(p.Entry.Pair)
	choice := slices.IndexFunc(p.Pairs, func(c pairChoice) bool { return c.Value == p.Entry.Pair })
	if choice < 0 || len(pair) != 3 {
		return service.NewMeasurement{}, []problem{{"pair", "Choose what you compared."}}
	}
	revision := p.Shown.Number
	if number, err := strconv.Atoi(v.form("revision")); err == nil {
		revision = number // that of the form: it may have waited for the network
	}
	in := service.NewMeasurement{
		ClientID: p.Once, Picture: pair[0], Sound: pair[1], ReadAt: pair[2], Method: p.Entry.Method, Revision: &revision,
		TakenAt: v.form("taken_at"), Note: p.Entry.Note,
	}
	if in.Method == string(domain.ByEye) {
		in.CardSource = shortName(p.Entry.Card)
	}
	power, ok := powerUps[p.Entry.Changed]
	if !ok {
		problems = append(problems, problem{"changed", "Say whether anything was switched off, re-plugged or changed."})
	}
	in.PowerUp = power
	reading, wrong := p.reading()
	if wrong != "" {
		problems = append(problems, problem{"amount", wrong})
	}
	in.Readings = []service.NewReading{reading}
	settings, unread := p.settings(p.Pairs[choice])
	in.Settings = settings
	return in, append(problems, unread...)
}

// settings are the dials that the pair passes, as they were read back.
func (p *measurePage) settings(pair pairChoice) (settings []service.NewSetting, unread []problem) {
	for _, dial := range p.Dials {
		if !slices.Contains(strings.Fields(pair.Controls), dial.Name) {
			continue
		}
		value := plainNumber(dial.Value)
		if value == "" {
			unread = append(unread, problem{"dial." + dial.Name, "Read " + dial.Name + " back from its dial; 0 if it is off."})
			continue
		}
		settings = append(settings, service.NewSetting{Control: dial.Name, Value: value})
	}
	return settings, unread
}

// shortName makes the short name of a card source of what a phone's keyboard
// makes of it: without capitals and spaces.
func shortName(typed string) string {
	return strings.Join(strings.Fields(strings.ToLower(typed)), "-")
}

// reading is how early or late the sound was. A direction and a size were asked
// for; only here do they become a sign.
func (p *measurePage) reading() (reading service.NewReading, wrong string) {
	heard, size := p.Entry.Heard, plainNumber(p.Entry.Amount)
	switch heard {
	case "in-sync":
		size = "0"
	case "early", "late":
		if size == "" {
			return reading, "Say how much: a number of frames or milliseconds."
		}
	default:
		return reading, "Say how the sound was heard: early, in sync or late."
	}
	if p.Entry.Unit != "ms" {
		return service.NewReading{Frames: size, Heard: heard}, ""
	}
	ms, err := strconv.ParseFloat(size, 64)
	if err != nil || !(ms >= 0) || math.IsInf(ms, 0) {
		return reading, "Say how many milliseconds as a plain number, without a sign, such as 40 or 40,5."
	}
	if heard == "late" {
		ms = -ms
	}
	return service.NewReading{OffsetMS: &ms}, ""
}

// problemsOf says the faults that the use case found, each with its field.
func (p *measurePage) problemsOf(e *domain.Error) []problem {
	var all []problem
	for _, f := range e.Fields {
		field := "form"
		for prefix, name := range map[string]string{
			"/readings": "amount", "/card_source": "card_source", "/settings": "dials", "/note": "note", "/power_up": "changed",
			"/picture": "pair", "/sound": "pair", "/read_at": "pair",
		} {
			if strings.HasPrefix(f.Pointer, prefix) {
				field = name
			}
		}
		all = append(all, problem{field, sentence(f.Detail) + ". Give " + f.Send + "."})
	}
	if len(all) == 0 {
		all = []problem{{"form", e.Message}}
	}
	return all
}

// A takenPage is a measurement and what follows from it.
type takenPage struct {
	service.Taken
	Words     string // what was read
	Pair      string
	RigPath   string
	Check     []string // what it says of the plan that was dialled in
	Plan      planView
	Who       string
	MayStrike bool
	MayDial   bool
	Pictures  []pictureLine // of two sounds: what it changed for the pictures
}

// Moveless reports whether nothing is to be set.
func (p takenPage) Moveless() bool { return len(p.Plan.Move) == 0 }

func showTaken(v *visit) error {
	ctx, r := v.Request().Context(), v.request()
	taken, err := v.pages.use.Taken(ctx, r, v.Param("id"))
	if err != nil {
		return err
	}
	rig, err := v.pages.use.Rig(ctx, r, taken.Measurement.Rig.ID.String())
	if err != nil {
		return err
	}
	m := taken.Measurement
	page := takenPage{
		Taken: taken, Words: sentence(wording.Comparison(m.Measurement, m.MeanMS())), RigPath: rigPath(rig),
		Pair: pairWords(m.Measurement),
		Plan: viewPlan(taken.Delays), Who: v.pages.use.KeyLabel(m.By), MayDial: v.mayWrite(rig, domain.Editor),
	}
	if taken.Check != nil && m.Struck == nil {
		page.Check = checkWords(taken.Check)
	}
	if m.FirstSig == domain.Sound && m.SecondSig == domain.Sound && m.Struck == nil {
		if page.Pictures, err = v.picturesOf(m); err != nil {
			return err
		}
	}
	page.MayStrike = v.pages.use.MayStrike(ctx, r, m.ID.String()) == nil
	return v.show(http.StatusOK, "taken", page)
}

func checkWords(c *service.Check) []string {
	out := []string{"The plan was dialled in: what you read is outside the limit."}
	if c.Inside {
		out[0] = "The plan was dialled in, and what you read is inside the limit."
	}
	out = append(out, "After the next power-up it is inside with "+wording.Chance(c.Chance)+".")
	if c.Surprise != "" {
		out = append(out, "It does not fit what all other measurements predicted: "+wording.Cause(c.Surprise)+".")
	}
	return out
}

// strike takes a measurement out, and may lead to the form to enter it right.
func strike(v *visit) error {
	return v.changeMeasurement(v.pages.use.StrikeMeasurement)
}

// restore takes a strike back.
func restore(v *visit) error {
	return v.changeMeasurement(v.pages.use.RestoreMeasurement)
}

func (v *visit) changeMeasurement(change func(context.Context, service.Request, string, string) (service.MeasurementView, error)) error {
	id := v.Param("id")
	r := v.request()
	r.Once, r.Fingerprint = v.once()
	m, err := change(v.Request().Context(), r, id, strings.TrimSpace(v.form("reason")))
	if err != nil {
		return err
	}
	if v.form("again") != "" {
		return v.to("/rigs/" + m.Name() + "/measure?again=" + id)
	}
	return v.to("/measurements/" + id)
}

package pages

import (
	"fmt"
	"slices"
	"strings"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/plan"
	"delaybook/domain/service"
	"delaybook/domain/timebase"
)

// A planView is what to set, in words.
type planView struct {
	State    plan.State
	Text     string
	Move     []settingView // controls to change, those first that change most
	Keep     []settingView // at what the plan says already, or not ours to move
	Pairs    []pairView
	Why      string // why measurements differ, if that is the same for every pair
	Advice   []string
	Try      []string // when nothing that can be set is enough
	Version  domain.Version
	Revision int
}

// A settingView is one control.
type settingView struct {
	Name    string
	Where   string
	From    string // what is dialled in; empty: not recorded
	To      string
	Reaches string
	Fixed   bool // not ours to move
	AtEnd   bool // nothing is left beyond it
	Value   string
}

// A pairView is what is left of a pair, in words.
type pairView struct {
	Name       string
	Known      bool
	Now        string // what is left
	Verdict    string
	Importance domain.Importance
	Limit      string
	Margin     string
	Chance     string
	Why        string
	Seats      []string
}

func viewPlan(d *service.Delays) planView {
	rate := d.Rig.Current().Layout.FrameRate
	view := planView{State: d.State, Text: sentence(wording.PlanState(d.State)), Version: d.Version, Revision: d.Revision}
	for _, x := range d.Settings {
		one := viewSetting(x)
		if x.Fixed || x.Now != nil && x.Now.Equal(x.Value) {
			view.Keep = append(view.Keep, one)
		} else {
			view.Move = append(view.Move, one)
		}
	}
	for _, p := range d.Pairs {
		if p.Importance != domain.Ignore {
			view.Pairs = append(view.Pairs, viewPair(p, rate))
		}
	}
	view.shareWhy()
	for _, a := range slices.Concat(d.Notes, d.Plan.Advice) {
		view.Advice = append(view.Advice, a.Text)
	}
	for _, a := range d.Alternatives {
		view.Try = append(view.Try, a.Text)
	}
	return view
}

// shareWhy takes out of the pairs what would be said of each.
func (p *planView) shareWhy() {
	if len(p.Pairs) < 2 {
		return
	}
	for _, pair := range p.Pairs[1:] {
		if pair.Why != p.Pairs[0].Why {
			return
		}
	}
	p.Why = p.Pairs[0].Why
	for i := range p.Pairs {
		p.Pairs[i].Why = ""
	}
}

func viewSetting(x service.DelaySetting) settingView {
	view := settingView{
		Name: x.Setting.Control, Where: x.Control.Where, To: wording.SettingAmount(x), Reaches: wording.Reaches(x),
		Fixed: x.Fixed, AtEnd: x.AtEnd, Value: x.Value.String(),
	}
	if x.Now != nil {
		view.From = wording.Amount(*x.Now, x.Control.Unit)
	}
	return view
}

func viewPair(p service.DelayPair, rate timebase.Rate) pairView {
	view := pairView{
		Name: fmt.Sprintf("%s with %s", p.Picture, p.Sound), Known: p.Known, Importance: p.Importance,
		Limit: limitWords(p), Why: p.Offset.Why,
	}
	if !p.Known {
		return view
	}
	view.Now = sentence(wording.Offset(p.AfterMS, rate))
	view.Verdict, view.Margin, view.Chance = string(p.Verdict), sentence(wording.Margin(p)), wording.Chance(p.Chance)
	for _, seat := range p.Seats {
		where := "inside"
		if !seat.Inside {
			where = "outside"
		}
		view.Seats = append(view.Seats, fmt.Sprintf("At the seat %s: %s, %s", seat.Seat, wording.Offset(seat.AfterMS, rate), where))
	}
	return view
}

func limitWords(p service.DelayPair) string {
	return fmt.Sprintf("%s at %s: %g ms early to %g ms late", p.Limit.Slug, p.Destination, p.Limit.EarlyMS, p.Limit.LateMS)
}

// sentence begins a text with a capital letter.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

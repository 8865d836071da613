package pages

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"delaybook/domain"
	"delaybook/domain/service"
)

// A rigPage shows a rig: what to set first, then why.
type rigPage struct {
	rigEntry
	Plan       planView
	Ladders    []ladderView
	Next       []nextView
	LeastSure  string // the pair that these are for
	CanMeasure bool
	CanDial    bool // record what is dialled in
}

// A nextView is a measurement that would help.
type nextView struct {
	What string
	Path string // of the form for it; empty if it is no pair of a rig that one may write to
	Why  string
}

func showRig(v *visit) error {
	rig, err := v.pages.use.Rig(v.Request().Context(), v.request(), v.Param("rig"))
	if err != nil {
		return err
	}
	page, err := v.rigPage(rig)
	if err != nil {
		return err
	}
	return v.show(http.StatusOK, "rig", page)
}

func (v *visit) rigPage(rig service.RigView) (*rigPage, error) {
	ctx, r := v.Request().Context(), v.request()
	r.At = rig.Book.Version() // all of the page from one book, whoever writes in between
	is, err := v.pages.use.Standing(ctx, rig)
	if err != nil {
		return nil, err
	}
	page := &rigPage{rigEntry: rigEntry{rig, standingWords(is)}, Plan: viewPlan(is.Delays)}
	page.CanMeasure = v.mayWrite(rig, domain.Tech)
	page.CanDial = v.mayWrite(rig, domain.Editor)
	if page.Ladders, err = v.ladders(r, rig); err != nil {
		return nil, err
	}
	_, next, err := v.pages.use.NextMeasurements(ctx, r, rig.ID.String())
	if err != nil {
		return nil, err
	}
	for _, n := range next[:min(len(next), 2)] {
		page.LeastSure = fmt.Sprintf("%s with %s at %s", n.For.Picture, n.For.Sound, n.For.Destination)
		page.Next = append(page.Next, v.viewNext(rig, n))
	}
	return page, nil
}

func (v *visit) ladders(r service.Request, rig service.RigView) ([]ladderView, error) {
	arrivals, err := v.pages.use.Arrivals(v.Request().Context(), r, rig.ID.String())
	if err != nil {
		return nil, err
	}
	var views []ladderView
	for i, a := range arrivals {
		view, err := viewLadder(a, rig.Shown.Layout.FrameRate, "ladder-"+strconv.Itoa(i))
		if err != nil {
			return nil, err
		}
		views = append(views, view)
	}
	return views, nil
}

// mayWrite reports whether a form would be refused: then it is not shown. The
// use case decides.
func (v *visit) mayWrite(rig service.RigView, role domain.Role) bool {
	c := v.session.Caller
	return c.Role.Includes(role) && (c.Role == domain.Admin || c.Crew == rig.Crew)
}

var methodWords = map[domain.Method]string{
	domain.ByEye: "by eye, from the card", domain.Clip: "a recording of the card", domain.Tracks: "two sound tracks compared",
	domain.Clap: "a hand clap or slate",
}

func (v *visit) viewNext(rig service.RigView, n service.NextMeasurement) nextView {
	what := fmt.Sprintf("%s with %s at %s, %s", n.First, n.Second, n.Destination, methodWords[domain.Method(n.Method)])
	if n.NewPowerUp {
		what += ", after switching off and on"
	}
	view := nextView{What: what, Why: n.Why}
	isPair := slices.ContainsFunc(rig.Shown.Layout.JudgedPairs(), func(p domain.JudgedPair) bool {
		return string(p.Picture) == n.First && string(p.Sound) == n.Second && string(p.Destination) == n.Destination
	})
	if isPair && "/rigs/"+n.Rig == rigPath(rig) && v.mayWrite(rig, domain.Tech) {
		view.Path = rigPath(rig) + "/measure?pair=" + url.QueryEscape(n.First+" "+n.Second+" "+n.Destination)
	}
	return view
}

// dial records that the plan on the page is dialled in, so that the next
// measurement is a check of it.
func dial(v *visit) error {
	name := v.Param("rig")
	version, err := strconv.ParseInt(v.form("plan"), 10, 64)
	if err != nil {
		return domain.Errorf(domain.Invalid, "The form does not say which plan was dialled in: open the rig again.")
	}
	r := v.request()
	r.At = domain.Version(version)
	then, err := v.pages.use.Delays(v.Request().Context(), r, name, "")
	if err != nil {
		return err
	}
	in := service.NewSettings{PlanVersion: &version}
	for _, x := range then.Settings {
		in.Settings = append(in.Settings, service.NewSetting{Control: x.Setting.Control, Value: x.Value.String()})
	}
	r = v.request()
	r.Once, r.Fingerprint = v.once()
	if _, err := v.pages.use.PutSettings(v.Request().Context(), r, name, in); err != nil {
		return err
	}
	return v.to("/rigs/" + name)
}

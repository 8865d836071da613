package pages

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/recording"
	"delaybook/domain/service"
	"delaybook/domain/timebase"
)

// A clipPage shows a recording: how far its analysis is, what it says, and what
// became of that.
type clipPage struct {
	service.ClipView
	Name       string
	RigPath    string
	RigName    string
	Left       string // while it is analysed
	Segments   []segmentView
	Warnings   []recording.Warning
	Pairs      []pairChoice
	Chains     []string // of sound, when two tracks were compared
	MayDecide  bool
	MayAnalyse bool
	Taken      []takenLine
	Problems   []problem
}

// A segmentView is what one stretch of a recording says.
type segmentView struct {
	Number int // from 1
	From   string
	To     string
	Track  string // empty: there is only one
	Words  string
	Give   string // half the range of 95 % in words
	Events []eventView
	Pair   string // chosen
	First  string // of two tracks
	Second string
}

// An eventView is one flash with its beep, or one window of two tracks.
type eventView struct {
	At    string
	Words string
	Used  bool
}

// A takenLine is a measurement that was made of a clip.
type takenLine struct{ Path, Words string }

// Is reports whether the clip is in one of the states.
func (p *clipPage) Is(states ...string) bool { return slices.Contains(states, string(p.State)) }

// Tracks reports whether two sounds were compared.
func (p *clipPage) Tracks() bool { return p.Options.Method == recording.ByTracks }

func showClip(v *visit) error {
	page, err := v.clipPage()
	if err != nil {
		return err
	}
	return v.show(http.StatusOK, "clip", page)
}

func (v *visit) clipPage() (*clipPage, error) {
	ctx, r := v.Request().Context(), v.request()
	clip, err := v.pages.clips.Clip(ctx, r, v.Param("clip"))
	if err != nil {
		return nil, err
	}
	rig, err := v.pages.use.Rig(ctx, r, clip.Rig.String())
	if err != nil {
		return nil, err
	}
	page := &clipPage{ClipView: clip, Name: clipName(clip), RigPath: rigPath(rig), RigName: rig.Rig.Name, Left: leftWords(clip.Clip)}
	page.MayDecide = v.mayWrite(rig, domain.Tech)
	analysed := clip.Options.Method == recording.ByClip || clip.Options.Method == recording.ByTracks
	page.MayAnalyse = page.MayDecide && clip.Kept && analysed && !clip.State.Running() && clip.State != service.ClipAccepted
	layout := &rig.Shown.Layout
	page.Pairs = pairChoices(layout)
	for _, chain := range layout.Chains {
		if chain.Signal == domain.Sound {
			page.Chains = append(page.Chains, string(chain.Slug))
		}
	}
	if clip.Result != nil {
		page.Warnings = clip.Result.Warnings
		for i := range clip.Result.Segments {
			page.Segments = append(page.Segments, viewSegment(clip.Clip, i, layout.FrameRate))
		}
	}
	return page, v.addTaken(page)
}

func (v *visit) addTaken(page *clipPage) error {
	for _, id := range page.Measurements {
		m, err := v.pages.use.Measurement(v.Request().Context(), v.request(), id.String())
		if err != nil {
			return err
		}
		words := fmt.Sprintf("%s with %s, read at %s: %s", m.First, m.Second, m.ReadAt, wording.Comparison(m.Measurement, m.MeanMS()))
		page.Taken = append(page.Taken, takenLine{"/measurements/" + id.String(), words})
	}
	return nil
}

// Slow reports whether an analysis takes so long that it is worth saying what is quicker.
func (p clipPage) Slow() bool { return p.EstimateS != nil && *p.EstimateS > 120 }

// leftWords says how long an analysis may still take.
func leftWords(c *service.Clip) string {
	switch {
	case c.State == service.ClipQueued:
		return "It waits for its turn."
	case c.EstimateS == nil:
		return "It has begun."
	}
	const minute = 60
	left := *c.EstimateS * (1 - c.Progress)
	if left < 1.5*minute {
		return fmt.Sprintf("About %d seconds more.", 10*int(math.Ceil(max(left, 1)/10)))
	}
	return fmt.Sprintf("About %.0f minutes more.", left/minute)
}

func viewSegment(c *service.Clip, i int, rigRate timebase.Rate) segmentView {
	s := &c.Result.Segments[i]
	rate, err := timebase.ParseRate(c.Result.FrameRate)
	if err != nil {
		rate = rigRate // a phone's rate may be no rate at all
	}
	said := func(ms float64) string {
		if c.Result.Method == recording.ByTracks {
			return fmt.Sprintf("%s by %.1f ms", cmp.Or(map[string]string{"early": "second track first", "late": "first track first"}[wording.Heard(ms)], "together"), math.Abs(ms))
		}
		return wording.Offset(ms, rate)
	}
	view := segmentView{
		Number: i + 1, From: seconds(s.FromS), To: seconds(s.ToS), Words: sentence(said(s.OffsetMS)),
		Give: fmt.Sprintf("%.1f ms", (s.This95[1]-s.This95[0])/2),
	}
	if c.Result.Method == recording.ByTracks {
		view.Words = tracksWords(c, s)
	}
	if len(c.Result.Segments) == 1 && c.Ask.Picture != "" {
		view.Pair = c.Ask.Picture + " " + c.Ask.Sound + " " + c.Ask.ReadAt
	}
	view.First, view.Second = c.Ask.First, c.Ask.Second
	if s.Sound != c.Result.Segments[0].Sound || i > 0 && s.FromS == c.Result.Segments[0].FromS {
		view.Track = fmt.Sprintf("track %d, channel %d", s.Sound.Stream+1, s.Sound.Channel+1)
	}
	for _, e := range s.Events {
		view.Events = append(view.Events, eventView{seconds(e.AtS), said(e.OffsetMS), e.Used})
	}
	return view
}

func seconds(s float64) string { return strconv.FormatFloat(s, 'f', 1, 64) }

// copyOf is the copy of the clip that the form was made of.
func (v *visit) copyOf() service.Match {
	row, err := strconv.ParseInt(v.form("version"), 10, 64)
	return service.Match{Given: err == nil, Versions: []domain.Version{domain.Version(row)}}
}

// acceptClip puts what the person assigned into the book.
func acceptClip(v *visit) error {
	page, err := v.clipPage()
	if err != nil {
		return err
	}
	var in service.Acceptance
	for i := range page.Segments {
		s := &page.Segments[i]
		number := strconv.Itoa(s.Number)
		s.Pair, s.First, s.Second = v.form("pair."+number), v.form("first."+number), v.form("second."+number)
		if pair := strings.Fields(s.Pair); len(pair) == 3 {
			in.Takes = append(in.Takes, service.AcceptedTake{Segment: i, Picture: pair[0], Sound: pair[1], ReadAt: pair[2]})
		} else if s.First != "" && s.Second != "" {
			in.Takes = append(in.Takes, service.AcceptedTake{Segment: i, First: s.First, Second: s.Second})
		}
	}
	if len(in.Takes) == 0 {
		page.Problems = []problem{{"segments", "Say of a stretch what it compares, or reject the recording."}}
		return v.show(http.StatusUnprocessableEntity, "clip", page)
	}
	accepted, err := v.pages.clips.AcceptClip(v.Request().Context(), v.request(), page.ID.String(), v.copyOf(), in)
	if e, ok := errors.AsType[*domain.Error](err); ok && e.Code == domain.Invalid {
		for _, f := range e.Fields {
			page.Problems = append(page.Problems, problem{"segments", sentence(f.Detail) + ". Give " + f.Send + "."})
		}
		return v.show(http.StatusUnprocessableEntity, "clip", page)
	}
	if err != nil {
		return err
	}
	if len(accepted.Taken) == 1 {
		return v.to("/measurements/" + accepted.Taken[0].Measurement.ID.String())
	}
	return v.to("/clips/" + page.ID.String())
}

// changeClip makes a handler of a change to a clip that shows it afterwards.
func changeClip(change func(v *visit, id string, match service.Match) (service.ClipView, error)) handler {
	return func(v *visit) error {
		if _, err := change(v, v.Param("clip"), v.copyOf()); err != nil {
			return err
		}
		return v.to("/clips/" + v.Param("clip"))
	}
}

func rejectClip(v *visit, id string, match service.Match) (service.ClipView, error) {
	return v.pages.clips.RejectClip(v.Request().Context(), v.request(), id, match, strings.TrimSpace(v.form("reason")))
}

func cancelClip(v *visit, id string, _ service.Match) (service.ClipView, error) {
	return v.pages.clips.CancelClip(v.Request().Context(), v.request(), id, service.Match{Given: true, Any: true}) // its version moves while it runs
}

func analyseClip(v *visit, id string, match service.Match) (service.ClipView, error) {
	clip, err := v.pages.clips.Clip(v.Request().Context(), v.request(), id)
	if err != nil {
		return clip, err
	}
	return v.pages.clips.AnalyseClip(v.Request().Context(), v.request(), id, match, clip.Options)
}

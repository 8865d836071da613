package api

import (
	"net/http"
	"slices"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/plan"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// Delays is the plan of a rig: what to set, and what that gives.
type Delays struct {
	Rig          string         `json:"rig" example:"harbour-hall"`
	Revision     int            `json:"revision" example:"3"`
	BookVersion  domain.Version `json:"book_version" example:"1841"`
	State        string         `json:"state" example:"ok" enums:"ok,unsure,infeasible,partial,unknown"`
	Settings     []DelaySetting `json:"settings"`
	Pairs        []DelayPair    `json:"pairs"`
	Feeds        []DelayFeed    `json:"feeds"`
	Bottlenecks  []Bottleneck   `json:"bottlenecks"`  // each is enough alone to make it fit
	Alternatives []Alternative  `json:"alternatives"` // of a plan that does not fit, in the order a crew tries them
	Advice       []Advice       `json:"advice"`
	Reached      *Reached       `json:"reached,omitempty" validate:"optional"` // with explain=1
} //	@name	Delays

// An Alternative is what a crew may try when nothing that can be dialled in is enough.
type Alternative struct {
	Kind   string `json:"kind" example:"genlock" enums:"low-delay-mode,leave-out-stage,genlock,output-delay,delay-fast-cameras,more-delay"`
	Name   string `json:"name" example:"cam-1 genlocked at cam-a"`
	Enough bool   `json:"enough"` // alone, for every hard pair
	State  string `json:"state" example:"ok" enums:"ok,unsure,infeasible,partial,unknown"`
	Text   string `json:"text" example:"cam-1 genlocked at cam-a is enough, with lectern-delay 5 frames."`
} //	@name	Alternative

// Reached is what the plan reached, in the order in which it was sought: no
// setting does better in one line without doing worse in a line before it.
type Reached struct {
	Proven          bool     `json:"proven"`                                                 // false: the time ended first, a better plan may exist
	HardLevel       int      `json:"hard_level" example:"999"`                               // chance in thousandths that every hard pair reaches
	PictureMS       float64  `json:"picture_ms" example:"0"`                                 // sum of picture delay
	SmallestHard    *int     `json:"smallest_hard" extensions:"x-nullable" example:"999"`    // level of the least sure hard pair
	SmallestSoft    *int     `json:"smallest_soft" extensions:"x-nullable" example:"950"`    // of the soft pairs and those given up
	FeedsAddedMS    float64  `json:"feeds_added_ms" example:"0"`                             // sum over the live feeds
	ControlsChanged int      `json:"controls_changed" example:"1"`                           // of those whose setting is recorded
	LargestAfterMS  *float64 `json:"largest_after_ms" extensions:"x-nullable" example:"3.8"` // of the hard pairs, either side
	SumAfterMS      float64  `json:"sum_after_ms" example:"-3.8"`
} //	@name	Reached

func fromVector(p *plan.Plan) *Reached {
	v := &p.Vector
	out := &Reached{
		Proven: p.Proven, HardLevel: v.HardLevel, PictureMS: ms(v.PictureMS), SmallestHard: v.SmallestHard, SmallestSoft: v.SmallestSoft,
		FeedsAddedMS: ms(v.FeedsAddedMS), ControlsChanged: v.ControlsChanged, SumAfterMS: ms(v.SumOfAfterMS),
	}
	if v.LargestAbsAfterHardMS != nil {
		out.LargestAfterMS = msPtr(*v.LargestAbsAfterHardMS)
	}
	return out
}

// A DelaySetting is what to set one control to.
type DelaySetting struct {
	Control      string   `json:"control" example:"lectern-delay"`
	Chains       []string `json:"chains"`
	Destinations []string `json:"destinations"` // whose tail it stands in
	Feeds        []string `json:"feeds"`        // live feeds that it reaches besides
	Signal       string   `json:"signal" example:"sound" enums:"picture,sound"`
	Unit         string   `json:"unit" example:"frame" enums:"frame,ms,sample"`
	Rate         *string  `json:"rate" extensions:"x-nullable" example:"30000/1001"`
	SampleRate   *int64   `json:"sample_rate" extensions:"x-nullable" example:"48000"`
	Value        number   `json:"value" swaggertype:"number" example:"6"`
	MS           float64  `json:"ms" example:"200.2"`
	Now          *number  `json:"now" swaggertype:"number" extensions:"x-nullable" example:"5"`
	AtEnd        bool     `json:"at_end"` // at the largest value that the control has
	Ours         bool     `json:"ours"`   // false: it is counted and never moved
	Where        string   `json:"where" example:"audio page, input 5"`
	Why          *Advice  `json:"why,omitempty" validate:"optional"` // with explain=1
} //	@name	DelaySetting

// A DelayPair is a pair with the plan dialled in.
type DelayPair struct {
	Picture     string      `json:"picture" example:"cam-1"`
	Sound       string      `json:"sound" example:"lectern"`
	Destination string      `json:"destination" example:"programme"`
	Importance  string      `json:"importance" example:"hard" enums:"hard,soft,ignore"`
	Limit       string      `json:"limit" example:"ebu-r37"`
	OffsetMS    *float64    `json:"offset_ms" extensions:"x-nullable" example:"196.4"` // before the controls
	CI95        *[2]float64 `json:"ci95" extensions:"x-nullable"`
	Next95      *[2]float64 `json:"next95" extensions:"x-nullable"`
	AfterMS     *float64    `json:"after_ms" extensions:"x-nullable" example:"-3.8"` // what remains
	Heard       *string     `json:"heard" extensions:"x-nullable" example:"late" enums:"early,late,in-sync"`
	Chance      *float64    `json:"chance_in_limit" extensions:"x-nullable" example:"0.9999"` // of the next power-up
	Verdict     *string     `json:"verdict" extensions:"x-nullable" example:"inside" enums:"inside,outside,undecided"`
	GivenUp     bool        `json:"given_up"` // no setting helps it without spoiling others
	Seats       []DelaySeat `json:"seats"`    // what remains at other seats of the destination
} //	@name	DelayPair

// A DelaySeat is what remains at a seat: the sound has a longer or shorter way.
type DelaySeat struct {
	Seat    string  `json:"seat" example:"far"`
	AfterMS float64 `json:"after_ms" example:"-44.2"`
	Heard   string  `json:"heard" example:"late" enums:"early,late,in-sync"`
	Inside  bool    `json:"inside"`
} //	@name	DelaySeat

// A DelayFeed is what a live feed gets.
type DelayFeed struct {
	Feed       string  `json:"feed" example:"pa"`
	AddedMS    float64 `json:"added_ms" example:"0"`
	MaxAddedMS float64 `json:"max_added_ms" example:"5"`
	Held       bool    `json:"held"`
} //	@name	DelayFeed

// A Bottleneck is one thing that, relaxed alone, brings every hard pair to the target.
type Bottleneck struct {
	Kind      string  `json:"kind" example:"control-range" enums:"control-range,pair-window,pair-spread,feed-bound"`
	Name      string  `json:"name" example:"lectern-delay"`
	NeedsMS   float64 `json:"needs_ms" example:"300.3"`
	MissingMS float64 `json:"missing_ms" example:"33.4"`
	Text      string  `json:"text" example:"lectern-delay needs 9 frames, has 8: 33.4 ms are missing"`
} //	@name	Bottleneck

// Advice is one thing to tell the crew.
type Advice struct {
	Code string `json:"code" example:"control-at-end"`
	Text string `json:"text" example:"lectern-delay is at its largest value."`
} //	@name	Advice

func (s *server) fromDelays(d *service.Delays, explain bool) Delays {
	out := Delays{
		Rig: string(d.Rig.Slug), Revision: d.Revision, BookVersion: d.Version, State: string(d.State),
		Settings: fromDelaySettings(d, explain), Pairs: []DelayPair{}, Feeds: []DelayFeed{}, Bottlenecks: []Bottleneck{}, Alternatives: []Alternative{}, Advice: []Advice{},
	}
	for _, p := range d.Pairs {
		out.Pairs = append(out.Pairs, fromDelayPair(p))
	}
	for _, f := range d.Plan.Feeds {
		out.Feeds = append(out.Feeds, DelayFeed{Feed: f.Feed, AddedMS: ms(f.AddedMS), MaxAddedMS: ms(f.MaxAddedMS), Held: f.Held})
	}
	for _, b := range d.Plan.Bottlenecks {
		out.Bottlenecks = append(out.Bottlenecks, Bottleneck{
			Kind: string(b.Kind), Name: b.Name, NeedsMS: ms(b.NeedsMS), MissingMS: ms(b.MissingMS), Text: b.Text,
		})
	}
	for _, a := range d.Alternatives {
		out.Alternatives = append(out.Alternatives, Alternative{
			Kind: string(a.Change.Kind), Name: a.Change.Name, Enough: a.Enough, State: string(a.Plan.State), Text: a.Text,
		})
	}
	if explain {
		out.Reached = fromVector(&d.Plan)
	}
	for _, a := range slices.Concat(d.Notes, d.Plan.Advice) {
		out.Advice = append(out.Advice, Advice{Code: string(a.Code), Text: a.Text})
	}
	return out
}

func fromDelaySettings(d *service.Delays, explain bool) []DelaySetting {
	out := []DelaySetting{}
	for _, x := range d.Settings {
		set := DelaySetting{
			Control: x.Setting.Control, Chains: slugs(x.Placed.Chains), Destinations: slugs(x.Placed.Tails), Feeds: slugs(x.Feeds),
			Signal: string(x.Placed.Signal), Unit: string(x.Control.Unit), Value: exact(x.Value), MS: ms(x.MS), Now: exactOrNil(x.Now),
			AtEnd: x.AtEnd, Ours: !x.Fixed, Where: x.Control.Where,
		}
		switch x.Control.Unit {
		case domain.UnitFrame:
			rate := d.Rig.Current().Layout.FrameRate
			if !x.Control.Rate.IsZero() {
				rate = x.Control.Rate
			}
			text := rate.String()
			set.Rate = &text
		case domain.UnitSample:
			hz := x.Control.SampleRate.Hz()
			set.SampleRate = &hz
		}
		if explain {
			set.Why = &Advice{Code: string(x.Why.Code), Text: x.Why.Text}
		}
		out = append(out, set)
	}
	return out
}

func fromDelayPair(p service.DelayPair) DelayPair {
	out := DelayPair{
		Picture: string(p.Picture), Sound: string(p.Sound), Destination: string(p.Destination), Importance: string(p.Importance),
		Limit: p.Limit.Slug, GivenUp: p.Role == plan.RoleGivenUp, Seats: []DelaySeat{},
	}
	for _, seat := range p.Seats {
		out.Seats = append(out.Seats, DelaySeat{Seat: string(seat.Seat), AfterMS: ms(seat.AfterMS), Heard: wording.Heard(seat.AfterMS), Inside: seat.Inside})
	}
	if e := p.Offset.Estimate; e != nil {
		out.OffsetMS, out.CI95 = msPtr(e.ValueMS), msPair(e.Interval)
	}
	if p.Offset.Next != nil {
		out.Next95 = msPair(p.Offset.Next.Interval)
	}
	if p.Known {
		how, verdict := wording.Heard(p.AfterMS), string(p.Verdict)
		out.AfterMS, out.Heard, out.Chance, out.Verdict = msPtr(p.AfterMS), &how, chance(p.Chance), &verdict
	}
	return out
}

// A Check is what a measurement made with a plan dialled in says of it.
type Check struct {
	AfterMS      float64        `json:"after_ms" example:"2.1"`
	Heard        string         `json:"heard" example:"early" enums:"early,late,in-sync"`
	Inside       bool           `json:"inside"`
	Chance       float64        `json:"chance" example:"0.98"` // of the next power-up, with this measurement in
	Surprise     *string        `json:"surprise" extensions:"x-nullable" example:"cause:sign-swapped"`
	NextSettings []DelaySetting `json:"next_settings"`
} //	@name	Check

func (s *server) fromCheck(x *service.Check) *Check {
	out := &Check{
		AfterMS: ms(x.AfterMS), Heard: wording.Heard(x.AfterMS), Inside: x.Inside, Chance: *chance(x.Chance),
		NextSettings: fromDelaySettings(x.Delays, false),
	}
	if x.Surprise != "" {
		out.Surprise = &x.Surprise
	}
	return out
}

// showDelays shows the plan of a rig.
//
//	@Summary		Show what to set
//	@Description	In text and CSV a plan that is of no use (infeasible, unknown) is a 409 problem unless force=1.
//	@Tags			answers
//	@Produce		json,text/plain,text/csv
//	@Security		bearer
//	@Param			rig					path		string	true	"slug, CREW.SLUG or identifier"
//	@Param			limit				query		string	false	"judge every destination by this limit"
//	@Param			explain				query		string	false	"1: with the reason of every setting"
//	@Param			format				query		string	false	"instead of Accept"	Enums(json,text,csv)
//	@Param			force				query		string	false	"1: text and CSV of a plan that is of no use too"
//	@Param			at					query		int		false	"book version to read"
//	@Success		200					{object}	Delays
//	@Success		304					"unchanged"
//	@Failure		401,404,406,409,422	{object}	Problem
//	@Router			/v1/rigs/{rig}/delays [get]
func (s *server) showDelays(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	media, err := negotiate(c, echo.MIMEApplicationJSON, textPlain, textCSV)
	if err != nil {
		return err
	}
	explain, err := queryFlag(c, "explain")
	if err != nil {
		return err
	}
	force, err := queryFlag(c, "force")
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, media); done || err != nil {
		return err
	}
	d, err := s.use.Delays(c.Request().Context(), r, c.Param("rig"), c.QueryParam("limit"))
	if err != nil {
		return err
	}
	if media != echo.MIMEApplicationJSON && !d.Feasible() && !force {
		return notToSet(d)
	}
	switch media {
	case textPlain:
		return c.Blob(http.StatusOK, textPlain+"; charset=utf-8", []byte(delaysText(d)))
	case textCSV:
		return delaysCSV(c, s.fromDelays(d, false))
	}
	return answer(c, http.StatusOK, s.fromDelays(d, explain))
}

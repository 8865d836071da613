package api

import (
	"net/http"
	"strconv"
	"strings"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// Offsets is what is known of every pair of a rig.
type Offsets struct {
	Rig         string         `json:"rig" example:"harbour-hall"`
	Revision    int            `json:"revision" example:"3"`
	BookVersion domain.Version `json:"book_version" example:"1841"`
	Offsets     []Offset       `json:"offsets"`
} //	@name	Offsets

// An Offset is what is known of how much later a picture comes than a sound,
// with every control at zero delay.
type Offset struct {
	First        string      `json:"first" example:"cam-1"`
	Second       string      `json:"second" example:"lectern"`
	Picture      *string     `json:"picture" extensions:"x-nullable" example:"cam-1"` // null: not a picture with a sound
	Sound        *string     `json:"sound" extensions:"x-nullable" example:"lectern"`
	Destination  string      `json:"destination" example:"programme"`
	Importance   *string     `json:"importance" extensions:"x-nullable" example:"hard"`
	OffsetMS     *float64    `json:"offset_ms" extensions:"x-nullable" example:"196.4"` // arrival of first minus arrival of second; positive: the sound is early
	Heard        *string     `json:"heard" extensions:"x-nullable" example:"early"`
	SEMS         *float64    `json:"se_ms" extensions:"x-nullable" example:"4.2"`
	DF           *float64    `json:"df" extensions:"x-nullable" example:"12.5"` // null: not limited by estimated variances
	CI95         *[2]float64 `json:"ci95" extensions:"x-nullable"`              // of the mean over power-ups
	Next95       *[2]float64 `json:"next95" extensions:"x-nullable"`            // of the next power-up
	WithDoubtful *Counted    `json:"with_doubtful" extensions:"x-nullable"`     // if doubtful measurements counted in full; null where none matters
	Measurements int         `json:"measurements" example:"14"`
	PowerUps     int         `json:"power_ups" example:"6"`
	Basis        string      `json:"basis" example:"measured" enums:"measured,predicted,mixed,stated,assumed,unknown"`
	Assumed      *Assumed    `json:"assumed" extensions:"x-nullable"` // with basis assumed
	Scatter      *Scatter    `json:"scatter" extensions:"x-nullable"`
	Why          string      `json:"why" example:"The camera runs free: each power-up lands anywhere within one frame."`
	DriftPPM     *float64    `json:"drift_ppm" extensions:"x-nullable"`
	Flags        []string    `json:"flags"`
	Missing      []string    `json:"missing"` // latencies that nothing determines
	Evidence     []Evidence  `json:"evidence"`
} //	@name	Offset

// Counted is what an offset would be if its doubtful measurements counted in full.
type Counted struct {
	OffsetMS float64    `json:"offset_ms" example:"188.2"`
	Heard    *string    `json:"heard" extensions:"x-nullable" example:"early"`
	CI95     [2]float64 `json:"ci95"` // of the mean over power-ups
} //	@name	Counted

// Assumed is a range taken over from another mode of a device.
type Assumed struct {
	RangeMS [2]float64 `json:"range_ms"`
	Device  string     `json:"device" example:"cam-a"`
	Mode    string     `json:"mode" example:"1080p25"`
	From    string     `json:"from" example:"1080p2997"` // the mode that was measured
} //	@name	Assumed

// Scatter splits the standard error of an offset by cause, ms: the squares add up.
type Scatter struct {
	ReadingMS      float64 `json:"reading_ms" example:"0.8"`
	QuantisationMS float64 `json:"quantisation_ms" example:"3.1"`
	PhaseMS        float64 `json:"phase_ms" example:"4.9"`
	OtherMS        float64 `json:"other_ms" example:"0.7"`
	UnitMS         float64 `json:"unit_ms" example:"0.5"`
	CardSourceMS   float64 `json:"card_source_ms" example:"2.2"`
	StatedMS       float64 `json:"stated_ms" example:"0"`
} //	@name	Scatter

// Evidence is one fact that an offset rests on.
type Evidence struct {
	Text        string  `json:"text" example:"measurement on red-van.harbour-hall"`
	Measurement *string `json:"measurement" extensions:"x-nullable" format:"uuid"`
	Rig         *string `json:"rig" extensions:"x-nullable" example:"red-van.harbour-hall"`
	Stated      *string `json:"stated" extensions:"x-nullable" format:"uuid"`
	CardSource  *string `json:"card_source" extensions:"x-nullable" example:"tablet-p"`
	Weight      float64 `json:"weight" example:"0.25"` // by how much the offset moves when this one moves by 1
	Share       float64 `json:"share" example:"0.2"`   // its part of all weights
	Doubtful    bool    `json:"doubtful"`
} //	@name	Evidence

// fromOffset shows an offset; paired says that it is of a picture and a sound.
func fromOffset(o service.Offset, paired bool) Offset {
	out := Offset{
		First: string(o.First), Second: string(o.Second),
		Destination: string(o.Destination), Measurements: o.Measurements, PowerUps: o.PowerUps, Basis: string(o.Basis),
		Why: o.Why, Flags: orEmpty(o.Flags), Missing: orEmpty(o.Missing), Evidence: []Evidence{},
	}
	if o.Importance != "" {
		out.Importance = (*string)(&o.Importance)
	}
	if e := o.Estimate; e != nil {
		out.OffsetMS, out.SEMS = msPtr(e.ValueMS), msPtr(e.SEMS)
		out.DF, out.CI95 = finite(e.DF), msPair(e.Interval)
	}
	if paired {
		out.Picture, out.Sound = &out.First, &out.Second
	}
	if o.DriftPPM != nil {
		out.DriftPPM = msPtr(*o.DriftPPM)
	}
	if paired && o.Estimate != nil {
		how := wording.Heard(o.Estimate.ValueMS)
		out.Heard = &how
	}
	if all := o.WithDoubtful; all != nil {
		out.WithDoubtful = &Counted{OffsetMS: ms(all.ValueMS), CI95: *msPair(all.Interval)}
		if paired {
			how := wording.Heard(all.ValueMS)
			out.WithDoubtful.Heard = &how
		}
	}
	if o.Next != nil {
		out.Next95 = msPair(o.Next.Interval)
	}
	if a := o.Assumed; a != nil {
		out.Assumed = &Assumed{RangeMS: [2]float64{ms(a.LowMS), ms(a.HighMS)}, Device: a.Device, Mode: a.Mode, From: a.From}
	}
	if x := o.Scatter; x != nil {
		out.Scatter = &Scatter{
			ms(x.ReadingMS), ms(x.QuantisationMS), ms(x.PhaseMS), ms(x.OtherMS), ms(x.UnitMS), ms(x.CardSourceMS), ms(x.StatedMS),
		}
	}
	for _, e := range o.Evidence {
		out.Evidence = append(out.Evidence, fromEvidence(e))
	}
	return out
}

func fromEvidence(e service.Evidence) Evidence {
	out := Evidence{Weight: weight(e.WeightMS), Share: weight(e.Share), Doubtful: e.Doubtful}
	switch {
	case e.Hidden:
		out.Text = "not visible to you"
	case e.Measurement != "":
		out.Text, out.Measurement, out.Rig = "measurement on "+e.Rig, &e.Measurement, &e.Rig
	case e.CardSource != "":
		out.Text, out.CardSource = "what is assumed or stated of card source "+e.CardSource, &e.CardSource
	default:
		out.Text, out.Stated = "stated value", &e.Stated
	}
	return out
}

// showOffsets shows the offset of every pair of a rig at every destination.
//
//	@Summary	Show the offsets of a rig
//	@Tags		answers
//	@Produce	json,text/csv
//	@Security	bearer
//	@Param		rig					path		string	true	"slug, CREW.SLUG or identifier"
//	@Param		format				query		string	false	"instead of Accept"	Enums(json,csv)
//	@Param		at					query		int		false	"book version to read"
//	@Success	200					{object}	Offsets
//	@Success	304					"unchanged"
//	@Failure	401,404,406,409,422	{object}	Problem
//	@Router		/v1/rigs/{rig}/offsets [get]
func (s *server) showOffsets(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	media, err := negotiate(c, echo.MIMEApplicationJSON, textCSV)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, media); done || err != nil {
		return err
	}
	all, err := s.use.Offsets(c.Request().Context(), r, c.Param("rig"))
	if err != nil {
		return err
	}
	out := Offsets{
		Rig: string(all.Rig.Slug), Revision: all.Rig.Shown.Number, BookVersion: all.Rig.Book.Version(), Offsets: []Offset{},
	}
	for _, o := range all.Offsets {
		out.Offsets = append(out.Offsets, fromOffset(o, true))
	}
	if media == textCSV {
		return offsetsCSV(c, out.Offsets)
	}
	return answer(c, http.StatusOK, out)
}

func offsetsCSV(c echo.Context, offsets []Offset) error {
	t := newTable("picture", "sound", "destination", "importance", "offset_ms", "se_ms", "df", "ci95_low", "ci95_high",
		"next95_low", "next95_high", "measurements", "power_ups", "basis", "reading_ms", "quantisation_ms", "phase_ms", "other_ms", "unit_ms",
		"card_source_ms", "stated_ms", "drift_ppm", "flags", "why")
	for _, o := range offsets {
		cells := []string{
			word(o.First), word(o.Second), word(o.Destination), word(text(o.Importance)), num(o.OffsetMS), num(o.SEMS), num(o.DF),
			low(o.CI95), high(o.CI95), low(o.Next95), high(o.Next95), strconv.Itoa(o.Measurements), strconv.Itoa(o.PowerUps),
			word(o.Basis),
		}
		cells = append(cells, scatterCells(o.Scatter)...)
		t.row(append(cells, num(o.DriftPPM), word(strings.Join(o.Flags, " ")), word(o.Why))...)
	}
	return t.send(c)
}

// scatterCells are empty where there is no offset to split.
func scatterCells(x *Scatter) []string {
	cells := make([]string, 7)
	if x == nil {
		return cells
	}
	for i, part := range []float64{x.ReadingMS, x.QuantisationMS, x.PhaseMS, x.OtherMS, x.UnitMS, x.CardSourceMS, x.StatedMS} {
		cells[i] = num(&part)
	}
	return cells
}

package api

import (
	"net/http"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A CheckRecord is one check of a rig: what was predicted, and what was read.
type CheckRecord struct {
	Measurement Measurement `json:"measurement"`
	PredictedMS *float64    `json:"predicted_ms" extensions:"x-nullable" example:"3.1"` // of the reading, from all else; null: nothing else tells
	MeasuredMS  float64     `json:"measured_ms" example:"5.6"`
	Ratio       *float64    `json:"ratio" extensions:"x-nullable" example:"0.4"` // of their difference to its standard deviation
	Inside      bool        `json:"inside"`
	Surprise    *string     `json:"surprise" extensions:"x-nullable" example:"cause:sign-swapped"`
} //	@name	CheckRecord

// listChecks lists the record of prediction against check of a rig, newest first.
//
//	@Summary	List the checks of a rig
//	@Tags		answers
//	@Produce	json
//	@Security	bearer
//	@Param		rig				path		string	true	"slug, CREW.SLUG or identifier"
//	@Param		page_size		query		int		false	"items per page, 1 to 200"
//	@Param		after			query		string	false	"next of the page before"
//	@Param		at				query		int		false	"book version to read"
//	@Success	200				{object}	List[CheckRecord]
//	@Success	304				"unchanged"
//	@Failure	401,404,409,422	{object}	Problem
//	@Router		/v1/rigs/{rig}/checks [get]
func (s *server) listChecks(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	all, err := s.use.Checks(c.Request().Context(), r, c.Param("rig"))
	if err != nil {
		return err
	}
	page, err := paged(c, all,
		func(x service.CheckRecord) string { return newestFirst(x.Measurement.Version, x.Measurement.ID.UUID) }, s.fromCheckRecord)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

func (s *server) fromCheckRecord(x service.CheckRecord) (CheckRecord, error) {
	m, err := s.fromMeasurement(x.Measurement)
	out := CheckRecord{Measurement: m, MeasuredMS: ms(x.MeasuredMS), Inside: x.Inside}
	if x.Predicted {
		out.PredictedMS, out.Ratio = msPtr(x.PredictedMS), finite(x.Ratio)
	}
	if x.Surprise != "" {
		out.Surprise = &x.Surprise
	}
	return out, err
}

// Copies says what two microphones on one sound do to each other.
type Copies struct {
	Rig         string         `json:"rig" example:"harbour-hall"`
	BookVersion domain.Version `json:"book_version" example:"1841"`
	First       string         `json:"first" example:"hand"`
	Second      string         `json:"second" example:"lectern"`
	Destination string         `json:"destination" example:"programme"`
	ApartMS     *float64       `json:"apart_ms" extensions:"x-nullable" example:"3.2"` // null: not known
	NotchesHz   []float64      `json:"notches_hz"`                                     // the three lowest frequencies at which equal copies cancel
	Settings    []CopySetting  `json:"settings"`                                       // that bring them together
	LeftMS      *float64       `json:"left_ms" extensions:"x-nullable" example:"0.1"`  // first minus second, with the settings
	Text        string         `json:"text"`
} //	@name	Copies

// A CopySetting is what to set one control to, to bring two copies together.
type CopySetting struct {
	Control string  `json:"control" example:"hand-delay"`
	Value   number  `json:"value" swaggertype:"number" example:"1"`
	MS      float64 `json:"ms" example:"33.4"`
} //	@name	CopySetting

// showCopies says what two microphones on one sound do to each other.
//
//	@Summary	Show what two copies of one sound do to each other
//	@Tags		answers
//	@Produce	json
//	@Security	bearer
//	@Param		rig				path		string	true	"slug, CREW.SLUG or identifier"
//	@Param		first			query		string	true	"a sound chain"
//	@Param		second			query		string	true	"another sound chain"
//	@Param		destination		query		string	false	"where both are heard; default the first"
//	@Param		at				query		int		false	"book version to read"
//	@Success	200				{object}	Copies
//	@Success	304				"unchanged"
//	@Failure	401,404,409,422	{object}	Problem
//	@Router		/v1/rigs/{rig}/copies [get]
func (s *server) showCopies(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	q := c.QueryParam
	x, err := s.use.Copies(c.Request().Context(), r, c.Param("rig"), q("first"), q("second"), q("destination"))
	if err != nil {
		return err
	}
	out := Copies{
		Rig: string(x.Rig.Slug), BookVersion: x.Rig.Book.Version(), First: string(x.First), Second: string(x.Second),
		Destination: string(x.Destination), NotchesHz: []float64{}, Settings: []CopySetting{},
	}
	if !x.Known {
		out.Text = "Open only one of them. " + x.Why
		return answer(c, http.StatusOK, out)
	}
	out.ApartMS, out.LeftMS, out.Text = msPtr(x.ApartMS), msPtr(x.LeftMS), x.Text
	for _, f := range x.NotchesHz {
		if f > 0 {
			out.NotchesHz = append(out.NotchesHz, ms(f))
		}
	}
	for _, set := range x.Settings {
		out.Settings = append(out.Settings, CopySetting{Control: set.Control, Value: number(set.ValueText()), MS: ms(set.MS)})
	}
	return answer(c, http.StatusOK, out)
}

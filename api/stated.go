package api

import (
	"fmt"
	"math"
	"net/http"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A NewStated adds a stated value: signal or difference, u_ms or half_width_ms.
type NewStated struct {
	Mode        string   `json:"mode" example:"default"`
	Signal      string   `json:"signal" validate:"optional" example:"sound" enums:"picture,sound"`
	Difference  []string `json:"difference" validate:"optional" example:"picture,sound"` // two signals: first minus second
	ValueMS     *float64 `json:"value_ms" example:"3"`
	UMS         *float64 `json:"u_ms" validate:"optional" extensions:"x-nullable"`                        // standard uncertainty, ms
	HalfWidthMS *float64 `json:"half_width_ms" validate:"optional" extensions:"x-nullable" example:"0.5"` // the plus-or-minus of the source, ms
	Source      string   `json:"source" example:"handbook, page 12"`
} //	@name	NewStated

// A Stated value is what somebody wrote of a latency.
type Stated struct {
	ID          string         `json:"id" format:"uuid"`
	Device      string         `json:"device" example:"radio-mic-w"`
	Mode        string         `json:"mode" example:"default"`
	Signal      *string        `json:"signal" extensions:"x-nullable" example:"sound"`
	Difference  []string       `json:"difference" extensions:"x-nullable"`
	ValueMS     float64        `json:"value_ms" example:"3"`
	UMS         *float64       `json:"u_ms" extensions:"x-nullable"`
	HalfWidthMS *float64       `json:"half_width_ms" extensions:"x-nullable" example:"0.5"`
	Source      string         `json:"source" example:"handbook, page 12"`
	By          string         `json:"by" example:"Red van, lead technician"`
	Version     domain.Version `json:"version" example:"14"`
	Struck      *Strike        `json:"struck" extensions:"x-nullable"`
} //	@name	Stated

// A Strike says why something no longer counts.
type Strike struct {
	Reason string    `json:"reason" example:"read off the wrong monitor"`
	At     time.Time `json:"at" format:"date-time"`
	By     string    `json:"by" example:"Red van, lead technician"`
} //	@name	Strike

// A Reason says why something is struck out or restored.
type Reason struct {
	Reason string `json:"reason" example:"read off the wrong monitor"`
} //	@name	Reason

func (s *server) fromStrike(x *domain.Strike) *Strike {
	if x == nil {
		return nil
	}
	return &Strike{Reason: x.Reason, At: x.At, By: s.use.KeyLabel(x.By)}
}

func (s *server) fromStated(v *domain.Stated) (Stated, error) {
	out := Stated{
		ID: v.ID.String(), ValueMS: v.ValueMS, Source: v.Source, By: s.use.KeyLabel(v.By), Version: v.Version, Struck: s.fromStrike(v.Struck),
	}
	out.Device, out.Mode = s.use.ModeNames(v.Device, v.Mode)
	signal := string(v.Signal)
	if v.Minus == "" {
		out.Signal = &signal
	} else {
		out.Difference = []string{signal, string(v.Minus)}
	}
	if v.UMS > 0 {
		out.UMS = &v.UMS
	}
	if v.HalfWidthMS > 0 {
		out.HalfWidthMS = &v.HalfWidthMS
	}
	return out, nil
}

// listStated lists the stated values of a device, struck ones too.
//
//	@Summary	List stated values
//	@Tags		catalogue
//	@Produce	json
//	@Security	bearer
//	@Param		device		path		string	true	"slug or identifier"
//	@Param		page_size	query		int		false	"items per page, 1 to 200"
//	@Param		after		query		string	false	"next of the page before"
//	@Param		at			query		int		false	"book version to read"
//	@Success	200			{object}	List[Stated]
//	@Success	304			"unchanged"
//	@Failure	401,404,422	{object}	Problem
//	@Router		/v1/devices/{device}/stated [get]
func (s *server) listStated(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	all, err := s.use.StatedOf(c.Request().Context(), r, c.Param("device"))
	if err != nil {
		return err
	}
	page, err := paged(c, all, func(v *domain.Stated) string { return ascending(v.Version) + v.ID.String() }, s.fromStated)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// ascending is a text that sorts as the version does.
func ascending(v domain.Version) string { return fmt.Sprintf("%019d/", v) }

// descending is a text that sorts newest first.
func descending(v domain.Version) string { return ascending(math.MaxInt64 - v) }

// createStated adds a stated value to a device.
//
//	@Summary	Add a stated value
//	@Tags		catalogue
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		device						path		string		true	"slug or identifier"
//	@Param		Idempotency-Key				header		string		false	"makes the request safe to repeat"
//	@Param		stated						body		NewStated	true	"the value"
//	@Success	201							{object}	Stated
//	@Failure	400,401,403,404,413,415,422	{object}	Problem
//	@Router		/v1/devices/{device}/stated [post]
func (s *server) createStated(c echo.Context) error {
	var in NewStated
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	v, err := s.use.AddStated(c.Request().Context(), r, c.Param("device"), service.NewStated(in))
	if err != nil {
		return err
	}
	out, _ := s.fromStated(v)
	return created(c, "/v1/devices/"+out.Device+"/stated", v.Version, out)
}

// strikeStated takes a stated value out of the answers.
//
//	@Summary	Strike out a stated value
//	@Tags		catalogue
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		id							path		string	true	"identifier of the stated value"
//	@Param		Idempotency-Key				header		string	false	"makes the request safe to repeat"
//	@Param		reason						body		Reason	true	"why"
//	@Success	200							{object}	Stated
//	@Failure	400,401,403,404,413,415,422	{object}	Problem
//	@Router		/v1/stated/{id}/strike [post]
func (s *server) strikeStated(c echo.Context) error {
	var in Reason
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	v, err := s.use.StrikeStated(c.Request().Context(), r, c.Param("id"), in.Reason)
	if err != nil {
		return err
	}
	out, _ := s.fromStated(v)
	return answer(c, http.StatusOK, out)
}

// restoreStated takes back a strike.
//
//	@Summary	Restore a stated value
//	@Tags		catalogue
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		id							path		string	true	"identifier of the stated value"
//	@Param		Idempotency-Key				header		string	false	"makes the request safe to repeat"
//	@Param		reason						body		Reason	true	"why"
//	@Success	200							{object}	Stated
//	@Failure	400,401,403,404,413,415,422	{object}	Problem
//	@Router		/v1/stated/{id}/restore [post]
func (s *server) restoreStated(c echo.Context) error {
	var in Reason
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	v, err := s.use.RestoreStated(c.Request().Context(), r, c.Param("id"), in.Reason)
	if err != nil {
		return err
	}
	out, _ := s.fromStated(v)
	return answer(c, http.StatusOK, out)
}

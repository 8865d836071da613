package api

import (
	"net/http"

	"delaybook/domain"
	"delaybook/domain/limits"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A NewLimit adds a limit of the company's own.
type NewLimit struct {
	Slug    string   `json:"slug" example:"company-tight"`
	Name    string   `json:"name" example:"Our own, for close-ups"`
	EarlyMS *float64 `json:"early_ms" example:"20"` // how early the sound may be, ms, inclusive
	LateMS  *float64 `json:"late_ms" example:"40"`  // how late the sound may be, ms, as a positive number, inclusive
	Source  string   `json:"source" validate:"optional" example:"agreed on 3 March"`
} //	@name	NewLimit

// A Limit is a tolerance on the offset.
type Limit struct {
	Slug      string  `json:"slug" example:"ebu-r37"`
	Name      string  `json:"name" example:"EBU R37, output"`
	EarlyMS   float64 `json:"early_ms" example:"40"` // how early the sound may be, ms, inclusive
	LateMS    float64 `json:"late_ms" example:"60"`  // how late the sound may be, ms, inclusive
	Where     string  `json:"where" example:"any output meant for emission"`
	Source    string  `json:"source" example:"EBU R37-2007"`
	Published bool    `json:"published"` // false: the company's own
} //	@name	Limit

func fromLimit(l limits.Limit) (Limit, error) {
	return Limit{
		Slug: l.Slug, Name: l.Name, EarlyMS: l.EarlyMS, LateMS: l.LateMS, Where: l.Where, Source: l.Source, Published: l.Published,
	}, nil
}

// listLimits lists the published limits and the company's own.
//
//	@Summary	List limits
//	@Tags		limits
//	@Produce	json
//	@Security	bearer
//	@Param		page_size	query		int		false	"items per page, 1 to 200"
//	@Param		after		query		string	false	"next of the page before"
//	@Param		at			query		int		false	"book version to read"
//	@Success	200			{object}	List[Limit]
//	@Success	304			"unchanged"
//	@Failure	401,422		{object}	Problem
//	@Router		/v1/limits [get]
func (s *server) listLimits(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	all, err := s.use.Limits(c.Request().Context(), r)
	if err != nil {
		return err
	}
	page, err := paged(c, all, func(l limits.Limit) string { return l.Slug }, fromLimit)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// createLimit adds a limit of the company's own.
//
//	@Summary	Add a limit of the company's own
//	@Tags		limits
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		Idempotency-Key				header		string		false	"makes the request safe to repeat"
//	@Param		limit						body		NewLimit	true	"the limit"
//	@Success	201							{object}	Limit
//	@Failure	400,401,403,409,413,415,422	{object}	Problem
//	@Router		/v1/limits [post]
func (s *server) createLimit(c echo.Context) error {
	var in NewLimit
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	l, err := s.use.AddLimit(c.Request().Context(), r, service.NewLimit(in))
	if err != nil {
		return err
	}
	out, _ := fromLimit(l)
	c.Response().Header().Set(echo.HeaderLocation, "/v1/limits")
	return answer(c, http.StatusCreated, out)
}

// A NewCardSource states how far light and sound of a card source are apart.
type NewCardSource struct {
	Slug     string   `json:"slug" example:"tablet-p"`
	Name     string   `json:"name" validate:"optional" example:"Tablet P"`
	StatedMS *float64 `json:"stated_ms" validate:"optional" extensions:"x-nullable" example:"6"` // light minus sound, ms; default 0
	UMS      *float64 `json:"u_ms" example:"3"`                                                  // standard uncertainty, ms
	Source   string   `json:"source" example:"measured beside a clap on 3 March"`
} //	@name	NewCardSource

// A CardSource is what is stated of a device that shows the card.
type CardSource struct {
	Slug     string         `json:"slug" example:"tablet-p"`
	Name     string         `json:"name" example:"Tablet P"`
	StatedMS float64        `json:"stated_ms" example:"6"`
	UMS      float64        `json:"u_ms" example:"3"`
	Source   string         `json:"source" example:"measured beside a clap on 3 March"`
	Version  domain.Version `json:"version" example:"9"`
} //	@name	CardSource

func fromCardSource(x *domain.CardSource) (CardSource, error) {
	return CardSource{
		Slug: string(x.Slug), Name: x.Name, StatedMS: x.StatedMS, UMS: x.UMS, Source: x.Source, Version: x.Version,
	}, nil
}

// listCardSources lists what is stated of card sources.
//
//	@Summary	List card sources
//	@Tags		limits
//	@Produce	json
//	@Security	bearer
//	@Param		page_size	query		int		false	"items per page, 1 to 200"
//	@Param		after		query		string	false	"next of the page before"
//	@Param		at			query		int		false	"book version to read"
//	@Success	200			{object}	List[CardSource]
//	@Success	304			"unchanged"
//	@Failure	401,422		{object}	Problem
//	@Router		/v1/card-sources [get]
func (s *server) listCardSources(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	all, err := s.use.CardSources(c.Request().Context(), r)
	if err != nil {
		return err
	}
	page, err := paged(c, all, func(x *domain.CardSource) string { return string(x.Slug) }, fromCardSource)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// createCardSource states how far light and sound of a card source are apart.
//
//	@Summary	State the offset of a card source
//	@Tags		limits
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		Idempotency-Key			header		string			false	"makes the request safe to repeat"
//	@Param		source					body		NewCardSource	true	"what is stated; replaces what was"
//	@Success	201						{object}	CardSource
//	@Failure	400,401,403,413,415,422	{object}	Problem
//	@Router		/v1/card-sources [post]
func (s *server) createCardSource(c echo.Context) error {
	var in NewCardSource
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	x, err := s.use.AddCardSource(c.Request().Context(), r, service.NewCardSource(in))
	if err != nil {
		return err
	}
	out, _ := fromCardSource(x)
	return created(c, "/v1/card-sources", x.Version, out)
}

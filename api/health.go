package api

import (
	"errors"
	"net/http"

	"delaybook/domain"
	"delaybook/domain/convert"

	"github.com/labstack/echo/v4"
)

// health says that the process answers.
//
//	@Summary	Is the process alive?
//	@Tags		operation
//	@Produce	text/plain
//	@Success	200	{string}	string	"ok"
//	@Router		/healthz [get]
func (s *server) health(c echo.Context) error { return c.String(http.StatusOK, "ok\n") }

// ready says that the service can answer from its book.
//
//	@Summary	Can the service answer?
//	@Tags		operation
//	@Produce	text/plain
//	@Success	200	{string}	string	"ok"
//	@Failure	503	{object}	Problem
//	@Router		/readyz [get]
func (s *server) ready(c echo.Context) error {
	if err := s.use.Ready(c.Request().Context()); err != nil {
		return err
	}
	return c.String(http.StatusOK, "ok\n")
}

// convert converts a delay between frames, ms, samples and air.
//
//	@Summary	Convert a delay
//	@Tags		operation
//	@Produce	json
//	@Security	bearer
//	@Param		frames		query		string	false	"frames, at rate"
//	@Param		ms			query		string	false	"milliseconds"
//	@Param		samples		query		string	false	"samples, at sample_rate"
//	@Param		metres		query		string	false	"metres of air"
//	@Param		feet		query		string	false	"feet of air"
//	@Param		rate		query		string	false	"frame rate, such as 29.97 or 30000/1001"
//	@Param		sample_rate	query		string	false	"samples per second, default 48000"
//	@Param		air_c		query		string	false	"air temperature in degrees Celsius, default 20"
//	@Success	200			{object}	convert.Result
//	@Failure	401,422		{object}	Problem
//	@Router		/v1/convert [get]
func (s *server) convert(c echo.Context) error {
	q := c.QueryParam
	result, err := convert.Convert(convert.Query{
		Frames: q("frames"), MS: q("ms"), Samples: q("samples"), Metres: q("metres"), Feet: q("feet"),
		Rate: q("rate"), SampleRate: q("sample_rate"), AirC: q("air_c"),
	})
	if faults, ok := errors.AsType[convert.Errors](err); ok {
		var bad domain.Fields
		for _, f := range faults {
			bad.Add(f.Field, f.Detail, f.Send)
		}
		return bad.Err("The delay can not be converted.")
	}
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, result)
}

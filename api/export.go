package api

import (
	"net/http"

	"delaybook/domain/exchange"

	"github.com/labstack/echo/v4"
)

const ndjson = "application/x-ndjson"

// export sends every fact of the book as lines of JSON.
//
//	@Summary	Export the book
//	@Tags		company
//	@Produce	application/x-ndjson
//	@Security	bearer
//	@Param		at			query		int		false	"book version to export"
//	@Success	200			{string}	string	"a header line, then a fact a line"
//	@Failure	401,403,422	{object}	Problem
//	@Router		/v1/export [get]
func (s *server) export(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	header, facts, err := s.use.Export(c.Request().Context(), r)
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderContentType, ndjson)
	c.Response().WriteHeader(http.StatusOK)
	return exchange.Write(c.Response(), header, facts)
}

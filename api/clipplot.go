package api

import (
	"net/http"

	"delaybook/domain"
	"delaybook/domain/plot"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// showClipPlot draws the result of a clip.
//
//	@Summary		Draw the result of a clip
//	@Description	Light and sound of the recording on one axis of time, then each event with its two onsets joined and the offset in words.
//	@Tags			clips
//	@Produce		image/svg+xml
//	@Produce		json
//	@Security		bearer
//	@Param			clip			path		string	true	"identifier"
//	@Success		200				{string}	string
//	@Success		304				"unchanged"
//	@Failure		401,404,409,422	{object}	Problem
//	@Router			/v1/clips/{clip}/plot.svg [get]
func (s *server) showClipPlot(c echo.Context) error {
	v, err := s.clips.Clip(c.Request().Context(), service.Request{Caller: caller(c)}, c.Param("clip"))
	if err != nil {
		return err
	}
	if v.Result == nil {
		return domain.Errorf(domain.Conflict, "The clip is %s: it has no result to draw yet.", v.State)
	}
	if done, err := unchangedStored(c, v.Row); done || err != nil {
		return err
	}
	names := plot.Names{Title: v.Name() + ", " + v.Ask.TakenAt[:min(len(v.Ask.TakenAt), len("2006-01-02"))], Upper: v.Ask.Picture, Lower: v.Ask.Sound}
	if v.Ask.First != "" {
		names.Upper, names.Lower = v.Ask.First, v.Ask.Second
	}
	c.Response().Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; sandbox")
	return c.Blob(http.StatusOK, "image/svg+xml", plot.SVG(v.Result, v.Evidence, names))
}

package api

import (
	"fmt"
	"net/http"
	"time"

	"delaybook/domain/service"

	"github.com/go-json-experiment/json"
	"github.com/labstack/echo/v4"
)

// followClip tells of a clip while its analysis goes on.
//
//	@Summary		Follow the analysis of a clip
//	@Description	Server-sent events called clip, each with a Clip as data, until the clip stands still. A comment line keeps a quiet connection open.
//	@Description	With Last-Event-ID what was seen is not sent again; where there is nothing new to come the answer is 204, which ends the reconnecting of a browser.
//	@Tags			clips
//	@Produce		text/event-stream
//	@Produce		json
//	@Security		bearer
//	@Param			clip			path		string	true	"identifier"
//	@Param			Last-Event-ID	header		string	false	"id of the last event that was seen"
//	@Success		200				{string}	string
//	@Success		204				"it stands still, as it was seen"
//	@Failure		401,404,422		{object}	Problem
//	@Router			/v1/clips/{clip}/events [get]
func (s *server) followClip(c echo.Context) error {
	ctx, r := c.Request().Context(), service.Request{Caller: caller(c)}
	seen := c.Request().Header.Get("Last-Event-ID")
	v, err := s.clips.Clip(ctx, r, c.Param("clip"))
	if err != nil {
		return err
	}
	if !v.State.Running() && v.Mark() == seen {
		return c.NoContent(http.StatusNoContent)
	}
	out := c.Response()
	out.Header().Set(echo.HeaderContentType, "text/event-stream")
	out.Header().Set(echo.HeaderCacheControl, "no-store")
	out.Header().Set("X-Accel-Buffering", "no")
	control := http.NewResponseController(out)
	_ = control.SetWriteDeadline(time.Time{}) // a recorder of a test has none
	out.WriteHeader(http.StatusOK)
	send := func(text string) error {
		if _, err := out.Write([]byte(text)); err != nil {
			return err
		}
		return control.Flush()
	}
	changed := func(v service.ClipView) error {
		clip, err := s.fromClip(v)
		if err != nil {
			return err
		}
		data, err := json.Marshal(clip, json.Deterministic(true))
		if err != nil {
			return err
		}
		return send(fmt.Sprintf("id: %s\nevent: clip\ndata: %s\n\n", v.Mark(), data))
	}
	if err := s.clips.WatchClip(ctx, r, c.Param("clip"), seen, changed, func() error { return send(": still there\n\n") }); err != nil && ctx.Err() == nil {
		s.log.WarnContext(ctx, "the events of a clip broke off", "clip", v.ID, "err", err) // the answer has begun: its reader asks again
	}
	return nil
}

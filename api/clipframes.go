package api

import (
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"delaybook/domain"
	"delaybook/domain/onset"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// ClipFrames are frames of a recording to look at one by one, and its sudden
// sounds.
type ClipFrames struct {
	Frames    []ClipFrame    `json:"frames"`                    // in order of time
	Sounds    []onset.Onset  `json:"sounds"`                    // the loudest sudden sounds of the whole recording, in order of time
	DurationS float64        `json:"duration_s" example:"21.4"` // 0: the file does not say
	Version   domain.Version `json:"version" example:"4"`       // of this clip
} //	@name	ClipFrames

// A ClipFrame is one frame. It stands for the time from its time stamp to that
// of the next.
type ClipFrame struct {
	AtS   float64 `json:"at_s" example:"3.2032"` // time stamp, on the axis of the recording
	Image string  `json:"image" example:"/v1/clips/01a2f4f8-2f60-7f62-8b3a-0c8f6d1c7a11/frames/288288.jpg?width=640"`
} //	@name	ClipFrame

// clipStillPath is where a frame is, as pages and the list of frames name it.
func clipStillPath(clip string, ticks int64, width int) string {
	return fmt.Sprintf("/v1/clips/%s/frames/%d.jpg?width=%d", clip, ticks, width)
}

// listClipFrames lists frames of a recording.
//
//	@Summary		List frames of a recording, and its sudden sounds
//	@Description	To step through it by eye, also after the analysis refused it. Frames are made when they are first asked for, which may take some seconds.
//	@Tags			clips
//	@Produce		json
//	@Security		bearer
//	@Param			clip				path		string	true	"identifier"
//	@Param			from_s				query		number	false	"seconds: the first frame is the first one at or after it; default 0"
//	@Param			count				query		int		false	"frames, 1 to 120; default 12"
//	@Param			width				query		int		false	"of the images, pixels: a multiple of 160 up to 1280; default 640"
//	@Success		200					{object}	ClipFrames
//	@Failure		401,404,409,410,422	{object}	Problem
//	@Router			/v1/clips/{clip}/frames [get]
func (s *server) listClipFrames(c echo.Context) error {
	ctx, r, id := c.Request().Context(), service.Request{Caller: caller(c)}, c.Param("clip")
	var bad domain.Fields
	from := 0.0
	if text := c.QueryParam("from_s"); text != "" {
		var err error
		from, err = strconv.ParseFloat(text, 64)
		bad.Check(err == nil && math.Abs(from) < 1e6, "from_s", fmt.Sprintf("%q is no time", text), "seconds, such as 3.2")
	}
	count := queryInt(c, &bad, "count", 12)
	width := queryInt(c, &bad, "width", service.StillWidth)
	if err := bad.Err("A parameter of the request is wrong."); err != nil {
		return err
	}
	v, err := s.clips.Clip(ctx, r, id)
	if err != nil {
		return err
	}
	// A time stamp that was shown as seconds finds its frame again.
	times, err := s.clips.StillTimes(ctx, r, id, int64(math.Ceil(from*service.TicksPerS-0.01)), count, width)
	if err != nil {
		return err
	}
	heard, err := s.clips.Hearing(ctx, r, id)
	if err != nil {
		return err
	}
	out := ClipFrames{Frames: []ClipFrame{}, Sounds: heard.Onsets, DurationS: heard.DurationS, Version: v.Row}
	for _, t := range times {
		out.Frames = append(out.Frames, ClipFrame{float64(t) / service.TicksPerS, clipStillPath(v.ID.String(), t, width)})
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "private, no-cache")
	return answer(c, http.StatusOK, out)
}

func queryInt(c echo.Context, bad *domain.Fields, name string, otherwise int) int {
	text := c.QueryParam(name)
	if text == "" {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	bad.Check(err == nil, name, fmt.Sprintf("%q is no whole number", text), "a whole number")
	return n
}

// showClipFrame returns one frame of a recording.
//
//	@Summary	Show one frame of a recording
//	@Tags		clips
//	@Produce	jpeg
//	@Produce	json
//	@Security	bearer
//	@Param		clip				path		string	true	"identifier"
//	@Param		frame				path		string	true	"as the list of frames names it: the time stamp in 1/90000 s, and .jpg"
//	@Param		width				query		int		false	"pixels: a multiple of 160 up to 1280; default 640"
//	@Success	200					{file}		file
//	@Failure	401,404,409,410,422	{object}	Problem
//	@Router		/v1/clips/{clip}/frames/{frame} [get]
func (s *server) showClipFrame(c echo.Context) error {
	var bad domain.Fields
	width := queryInt(c, &bad, "width", service.StillWidth)
	if err := bad.Err("A parameter of the request is wrong."); err != nil {
		return err
	}
	name, isImage := strings.CutSuffix(c.Param("frame"), ".jpg")
	ticks, err := strconv.ParseInt(name, 10, 64)
	if err != nil || !isImage {
		return domain.Errorf(domain.NotFound, "There is no such frame: ask for the list of frames first.")
	}
	image, err := s.clips.Still(c.Request().Context(), service.Request{Caller: caller(c)}, c.Param("clip"), ticks, width)
	if err != nil {
		return err
	}
	// A frame never changes; it is kept for an hour because the recording may be deleted.
	c.Response().Header().Set(echo.HeaderCacheControl, "private, max-age=3600, immutable")
	return c.Blob(http.StatusOK, "image/jpeg", image)
}

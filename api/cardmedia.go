package api

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"strconv"

	"delaybook/domain"
	"delaybook/domain/card"
	"delaybook/domain/timebase"

	"github.com/labstack/echo/v4"
)

// The kinds of problem of a service that can not give a file of the card.
const (
	noEncoder domain.Code = "no-encoder" // the service has no program that makes media files
	making    domain.Code = "making"     // a file is being made and takes longer than a request waits
)

// showCardMedia sends a file of the card. It needs no key.
//
//	@Summary		Download a file of the card
//	@Description	The first request for a file makes it, which takes some ten seconds. Ranges are served.
//	@Tags			card
//	@Produce		video/quicktime
//	@Produce		video/mp4
//	@Param			rate				query	string	true	"frame rate: 23.976, 24, 25, 29.97, 30, 50, 59.94 or 60"
//	@Param			container			query	string	false	"mov: uncompressed sound; mp4: AAC; default mov"	Enums(mov, mp4)
//	@Success		200					{file}	binary
//	@Success		206					{file}	binary
//	@Success		304					"unchanged"
//	@Failure		412,416,422,501,503	{object}	Problem
//	@Router			/v1/card/media [get]
func (s *server) showCardMedia(c echo.Context) error {
	rate, container, err := cardQuery(c)
	if err != nil {
		return err
	}
	if s.shelf == nil {
		return domain.Errorf(noEncoder, "This service can not make the files of the card: it was started without its media program.")
	}
	file, err := s.shelf.Open(c.Request().Context(), rate, container)
	if errors.Is(err, ErrMaking) {
		return domain.Errorf(making, "The file is being made. Ask again in a moment: it is kept.")
	}
	if err != nil {
		return err
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return err
	}
	name := card.FileName(rate, container)
	h := c.Response().Header()
	// A file is made once for a name, which has the version; made anew on another machine, its size or time differ.
	h.Set("ETag", contentTag(fmt.Appendf(nil, "%s %d %d", name, info.Size(), info.ModTime().UnixNano())))
	h.Set(echo.HeaderContentType, container.Media())
	h.Set(echo.HeaderContentDisposition, `attachment; filename="`+name+`"`)
	h.Set(echo.HeaderCacheControl, "public, max-age=3600")
	out := &accepting{ResponseWriter: c.Response()}
	http.ServeContent(out, c.Request(), "", info.ModTime(), file)
	return out.refusal()
}

// accepting passes an answer on unless it is an error: errors are problems here, and not text.
type accepting struct {
	http.ResponseWriter
	refused int
}

func (w *accepting) WriteHeader(status int) {
	if status >= http.StatusBadRequest {
		w.refused = status
		return
	}
	w.ResponseWriter.WriteHeader(status)
}

func (w *accepting) Write(body []byte) (int, error) {
	if w.refused != 0 {
		return len(body), nil
	}
	return w.ResponseWriter.Write(body)
}

// refusal returns the error that was not passed on.
func (w *accepting) refusal() error {
	if w.refused == 0 {
		return nil
	}
	w.Header().Del(echo.HeaderContentDisposition)
	w.Header().Del(echo.HeaderContentType)
	detail := "The file could not be sent."
	switch w.refused {
	case http.StatusRequestedRangeNotSatisfiable:
		detail = "The file has no such range. Content-Range says how long it is."
	case http.StatusPreconditionFailed:
		detail = "The file is not the one that If-Match or If-Unmodified-Since names. Ask for it from its beginning."
	}
	return echo.NewHTTPError(w.refused, detail)
}

func cardQuery(c echo.Context) (timebase.Rate, card.Container, error) {
	var bad domain.Fields
	rate, err := card.ParseRate(c.QueryParam("rate"))
	note(&bad, "rate", err)
	container := card.MOV
	if text := c.QueryParam("container"); text != "" {
		container, err = card.ParseContainer(text)
		note(&bad, "container", err)
	}
	return rate, container, bad.Err("There is no such file of the card.")
}

// note notes what package timebase says of a query parameter.
func note(bad *domain.Fields, name string, err error) {
	if fault, ok := errors.AsType[*timebase.InputError](err); ok {
		bad.Add(name, fault.Detail, fault.Send)
	}
}

// A CardTruth says where each event of the files of a rate is.
type CardTruth struct {
	Rate       timebase.Rate `json:"rate" swaggertype:"string" example:"30000/1001"`
	Label      string        `json:"label" example:"29.97"`
	Frames     int64         `json:"frames" example:"1854"` // of the whole file
	Samples    int64         `json:"samples" example:"2969366"`
	SampleRate int           `json:"sample_rate" example:"48000"`
	Events     []card.Truth  `json:"events"`
} //	@name	CardTruth

// showCardTruth says where each event of a file is. It needs no key.
//
//	@Summary	List the events of a file of the card
//	@Tags		card
//	@Produce	json
//	@Produce	text/csv
//	@Param		rate	query		string	true	"frame rate of the file"
//	@Param		format	query		string	false	"json or csv, instead of Accept"	Enums(json, csv)
//	@Success	200		{object}	CardTruth
//	@Success	304		"unchanged"
//	@Failure	406,422	{object}	Problem
//	@Router		/v1/card/truth [get]
func (s *server) showCardTruth(c echo.Context) error {
	media, err := negotiate(c, echo.MIMEApplicationJSON, textCSV)
	if err != nil {
		return err
	}
	rate, _, err := cardQuery(c)
	if err != nil {
		return err
	}
	f, err := card.NewFile(rate)
	if err != nil {
		return err
	}
	if media == textCSV {
		return open(c, textCSV+"; charset=utf-8; header=present", card.TruthCSV(f))
	}
	body, err := encodeJSON(CardTruth{
		Rate: rate, Label: rate.Label(), Frames: f.Frames, Samples: f.Samples, SampleRate: card.SampleRate, Events: f.Truth(),
	})
	if err != nil {
		return err
	}
	return open(c, echo.MIMEApplicationJSON, body)
}

// contentTag is a strong tag of what an answer holds.
func contentTag(body []byte) string {
	sum := sha256.Sum256(body)
	return strconv.Quote(hex.EncodeToString(sum[:12]))
}

package api

import (
	"context"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"slices"
	"strings"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// createClip takes in a recording.
//
// A phone on a poor network sends it bit by bit by the tus protocol: a POST with
// Tus-Resumable and no body creates the upload, Upload-Metadata carries the
// fields below, and PATCH to its Location sends the bytes.
//
//	@Summary		Send a recording
//	@Description	A recording of the flash-and-beep card (clip), or of two sound tracks (tracks, in one file or two), as a form, or bit by bit by the tus protocol.
//	@Description	It is analysed in the background: follow its events, then accept or reject the result.
//	@Tags			clips
//	@Accept			mpfd
//	@Produce		json
//	@Security		bearer
//	@Param			rig										path		string	true	"slug, CREW.SLUG or identifier"
//	@Param			Idempotency-Key							header		string	false	"default of client_id"
//	@Param			Tus-Resumable							header		string	false	"1.0.0: create an upload that can be resumed"
//	@Param			Upload-Length							header		int		false	"with Tus-Resumable: bytes of the recording"
//	@Param			Upload-Metadata							header		string	false	"with Tus-Resumable: the fields of the form, filename, files=2 if a second one follows, in that second_of=CLIP; values in Base64"
//	@Param			file									formData	file	false	"the recording; a second one for a second track"
//	@Param			client_id								formData	string	false	"UUID made by who sends it; makes a repeat safe"
//	@Param			method									formData	string	false	"clip (default), tracks, or eye or clap to step it by hand"
//	@Param			picture									formData	string	false	"chain"
//	@Param			sound									formData	string	false	"chain"
//	@Param			first									formData	string	false	"chain; with tracks that of the first track"
//	@Param			second									formData	string	false	"chain"
//	@Param			read_at									formData	string	false	"destination"
//	@Param			card_source								formData	string	false	"the device that showed the card"
//	@Param			settings								formData	string	false	"dialled in: lectern-delay=0, pa-delay=4.5; default as recorded"
//	@Param			power_up								formData	string	false	"new, same or a label"
//	@Param			distance_m								formData	string	false	"from the source of the sound to the microphone"
//	@Param			air_c									formData	string	false	"temperature of the air, degrees Celsius"
//	@Param			taken_at								formData	string	false	"RFC 3339; default now"
//	@Param			revision								formData	string	false	"of the rig; default the one in force at taken_at"
//	@Param			note									formData	string	false	"free text"
//	@Param			segments								formData	string	false	"stretches to measure one by one, seconds: 0-12.5, 14-30; default: found"
//	@Param			first_track								formData	string	false	"tracks: file.stream.channel, each from 0; default: picked"
//	@Param			sound_track								formData	string	false	"the track with the beeps, or the second one; default: picked"
//	@Success		201										{object}	Clip
//	@Failure		400,401,403,404,409,412,413,415,422,507	{object}	Problem
//	@Router			/v1/rigs/{rig}/clips [post]
func (s *server) createClip(c echo.Context) error {
	if c.Request().Header.Get(tusVersion) != "" {
		return s.tus.create(c)
	}
	form, err := openForm(c)
	if err != nil {
		return err
	}
	r, err := writing(c, nil)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	upload, err := s.clips.Upload(ctx, r, c.Param("rig"))
	if err != nil {
		return err
	}
	v, err := s.takeForm(c, r, form, upload)
	if err := errors.Join(err, upload.Close()); err != nil {
		return err
	}
	out, err := s.fromClip(v)
	if err != nil {
		return err
	}
	return created(c, "/v1/clips/"+out.ID, v.Row, out)
}

func openForm(c echo.Context) (*multipart.Reader, error) {
	media, params, err := mime.ParseMediaType(c.Request().Header.Get(echo.HeaderContentType))
	if err != nil || media != "multipart/form-data" || params["boundary"] == "" {
		return nil, echo.NewHTTPError(http.StatusUnsupportedMediaType, "Send the recording as multipart/form-data, or by the tus protocol.")
	}
	return multipart.NewReader(patient(c), params["boundary"]), nil
}

// takeForm reads a form: files go to the disk as they come, wherever they stand.
func (s *server) takeForm(c echo.Context, r service.Request, form *multipart.Reader, upload *service.ClipUpload) (service.ClipView, error) {
	fields := map[string]string{}
	for {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return service.ClipView{}, brokenForm(err)
		}
		if part.FormName() == "file" || part.FormName() == "second" && part.FileName() != "" {
			err = upload.Add(part.FileName(), part)
		} else {
			err = addField(fields, part)
		}
		if err != nil {
			return service.ClipView{}, err
		}
	}
	in, err := newClip(fields)
	if err != nil {
		return service.ClipView{}, err
	}
	return s.clips.Add(c.Request().Context(), r, c.Param("rig"), in, upload)
}

// addField reads a field of text.
func addField(fields map[string]string, part *multipart.Part) error {
	const most = 1 << 16
	name := part.FormName()
	if _, twice := fields[name]; twice {
		return fault("", "the field "+name+" is given twice", "each field once")
	}
	if !slices.Contains(clipFields, name) {
		return fault("", "there is no field "+name, "file, and "+strings.Join(clipFields, ", "))
	}
	text, err := io.ReadAll(io.LimitReader(part, most+1))
	if err != nil {
		return brokenForm(err)
	}
	if len(text) > most {
		return domain.Errorf(domain.TooLarge, "The field %s is larger than %d bytes.", name, most)
	}
	fields[name] = string(text)
	return nil
}

func brokenForm(err error) error {
	return &domain.Error{
		Code: domain.Malformed, Message: "The form could not be read to its end: send it again, or bit by bit by the tus protocol.", Err: err,
	}
}

// pause is how long an upload may bring nothing before it is given up.
const pause = time.Minute

// patient returns the body of a request that may take as long as it likes, as
// long as something comes.
func patient(c echo.Context) io.Reader {
	control := http.NewResponseController(c.Response())
	_ = control.SetReadDeadline(time.Time{}) // a recorder of a test has none
	_ = control.SetWriteDeadline(time.Time{})
	past := time.Unix(1, 0)
	idle := time.AfterFunc(pause, func() { _ = control.SetReadDeadline(past) })
	// Whoever gives up before the end leaves the connection to the next request.
	context.AfterFunc(c.Request().Context(), func() { idle.Stop() })
	return &patientReader{c.Request().Body, idle}
}

type patientReader struct {
	io.Reader
	idle *time.Timer
}

func (p *patientReader) Read(b []byte) (int, error) {
	n, err := p.Reader.Read(b)
	if err != nil {
		p.idle.Stop()
	} else {
		p.idle.Reset(pause)
	}
	return n, err
}

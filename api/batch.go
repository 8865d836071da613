package api

import (
	"bytes"
	"context"
	"errors"
	"mime"
	"net/http"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/labstack/echo/v4"
)

func (s *server) changeMeasurement(
	c echo.Context, change func(context.Context, service.Request, string, string) (service.MeasurementView, error),
) error {
	var in Reason
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	v, err := change(c.Request().Context(), r, c.Param("id"), in.Reason)
	if err != nil {
		return err
	}
	out, err := s.fromMeasurement(v)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}

// A Batch says what became of the measurements of a batch.
type Batch struct {
	BookVersion domain.Version `json:"book_version" example:"1842"` // after the batch
	Items       []BatchItem    `json:"items"`                       // one for each measurement, in order
} //	@name	Batch

// A BatchItem says what became of one measurement of a batch.
type BatchItem struct {
	Index    int      `json:"index" example:"0"`
	Status   int      `json:"status" example:"201"` // as if it had been sent alone
	ID       *string  `json:"id" extensions:"x-nullable" format:"uuid"`
	ClientID *string  `json:"client_id" extensions:"x-nullable" format:"uuid"`
	Problem  *Problem `json:"problem" extensions:"x-nullable"`
} //	@name	BatchItem

// createMeasurements stores up to 10,000 measurements; each stands for itself.
//
//	@Summary	Add many measurements
//	@Tags		measurements
//	@Accept		json,application/x-ndjson
//	@Produce	json
//	@Security	bearer
//	@Param		Idempotency-Key			header		string				false	"gives items without a client_id one"
//	@Param		measurements			body		[]NewMeasurement	true	"each with rig and client_id; a JSON array, or one object a line"
//	@Success	200						{object}	Batch
//	@Failure	400,401,403,413,415,422	{object}	Problem
//	@Router		/v1/measurements [post]
func (s *server) createMeasurements(c echo.Context) error {
	body, err := readBody(c, maxBatchBody, echo.MIMEApplicationJSON, ndjson)
	if err != nil {
		return err
	}
	values, err := splitBatch(c, body)
	if err != nil {
		return err
	}
	r, err := writing(c, body)
	if err != nil {
		return err
	}
	out := Batch{Items: make([]BatchItem, len(values))}
	var send []service.NewMeasurement
	var index []int // of send in values
	for i, value := range values {
		out.Items[i] = BatchItem{Index: i}
		var in NewMeasurement
		err := decodeJSON(value, &in)
		if out.Items[i].ClientID = sentID(value); err != nil {
			out.Items[i].refuse(err)
			continue
		}
		send, index = append(send, in.toService()), append(index, i)
	}
	if len(send) == 0 && len(values) > 0 {
		out.BookVersion = s.use.Version()
		return answer(c, http.StatusOK, out)
	}
	items, version, err := s.use.AddMeasurements(c.Request().Context(), r, send)
	if err != nil {
		return err
	}
	out.BookVersion = version
	for i, item := range items {
		out.Items[index[i]].fill(item)
	}
	return answer(c, http.StatusOK, out)
}

func (b *BatchItem) fill(item service.BatchItem) {
	if item.Err != nil {
		b.refuse(item.Err)
		return
	}
	id, clientID := item.Measurement.ID.String(), item.Measurement.ClientID.String()
	b.Status, b.ID, b.ClientID = http.StatusCreated, &id, &clientID
}

func (b *BatchItem) refuse(err error) {
	e, ok := errors.AsType[*domain.Error](err)
	if !ok {
		e = domain.Errorf(domain.Internal, "The measurement was not stored.")
	}
	p := problem(e)
	b.Status, b.Problem = p.Status, &p
}

// lenient reads what it can: what is wrong inside an element of a batch is that
// element's own fault.
var lenient = json.JoinOptions(jsontext.AllowDuplicateNames(true), jsontext.AllowInvalidUTF8(true))

// sentID returns the client_id of an element, also of one that is wrong
// otherwise: by it a client tells which of its measurements was refused. It is
// nil if there is none that can be made out.
func sentID(value jsontext.Value) *string {
	var in struct {
		ClientID *string `json:"client_id"`
	}
	if err := json.Unmarshal(value, &in, lenient); err != nil {
		return nil
	}
	return in.ClientID
}

// splitBatch returns the JSON values of a batch: the elements of an array, or
// the lines.
func splitBatch(c echo.Context, body []byte) ([]jsontext.Value, error) {
	media, _, _ := mime.ParseMediaType(c.Request().Header.Get(echo.HeaderContentType))
	if media == ndjson {
		var values []jsontext.Value
		for line := range bytes.Lines(body) {
			if line = bytes.TrimSpace(line); len(line) > 0 {
				values = append(values, line)
			}
		}
		return values, tooMany(len(values))
	}
	var values []jsontext.Value
	if err := json.Unmarshal(body, &values, lenient); err != nil {
		return nil, decodeError(err, &values)
	}
	return values, tooMany(len(values))
}

func tooMany(n int) error {
	if n > service.MaxBatch {
		return domain.Errorf(domain.TooLarge, "The batch has %d measurements: send at most %d at a time.", n, service.MaxBatch)
	}
	return nil
}

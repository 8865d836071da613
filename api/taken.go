package api

import (
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A Taken measurement comes with what follows from it.
type Taken struct {
	Measurement Measurement `json:"measurement"`
	Offset      *Offset     `json:"offset" extensions:"x-nullable"` // of its chains in the latest revision; null if they are gone
	Delays      Delays      `json:"delays"`
	Check       *Check      `json:"check" extensions:"x-nullable"` // null unless a plan was dialled in
} //	@name	Taken

// createMeasurement stores a measurement and answers with what follows from it.
//
//	@Summary	Add a measurement
//	@Tags		measurements
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		rig								path		string			true	"slug, CREW.SLUG or identifier"
//	@Param		Idempotency-Key					header		string			false	"default of client_id"
//	@Param		measurement						body		NewMeasurement	true	"the measurement"
//	@Success	201								{object}	Taken
//	@Failure	400,401,403,404,409,413,415,422	{object}	Problem
//	@Router		/v1/rigs/{rig}/measurements [post]
func (s *server) createMeasurement(c echo.Context) error {
	var in NewMeasurement
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	if in.Rig != "" && in.Rig != c.Param("rig") {
		return fault("/rig", "the path names another rig", "no rig, or the one of the path")
	}
	taken, err := s.use.AddMeasurement(c.Request().Context(), r, c.Param("rig"), in.toService())
	if err != nil {
		return err
	}
	out, err := s.fromTaken(taken)
	if err != nil {
		return err
	}
	return created(c, "/v1/measurements/"+out.Measurement.ID, out.Measurement.Version, out)
}

func (s *server) fromTaken(taken service.Taken) (out Taken, err error) {
	out = Taken{Delays: s.fromDelays(taken.Delays, false)}
	if out.Measurement, err = s.fromMeasurement(taken.Measurement); err != nil {
		return out, err
	}
	if taken.Offset != nil {
		offset := fromOffset(*taken.Offset, out.Measurement.Picture != nil)
		out.Offset = &offset
	}
	if taken.Check != nil {
		out.Check = s.fromCheck(taken.Check)
	}
	return out, nil
}

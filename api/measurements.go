package api

import (
	"net/http"
	"time"

	"delaybook/api/wording"
	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A NewMeasurement is one comparison of two chains: picture and sound, or first
// and second.
type NewMeasurement struct {
	ClientID   string       `json:"client_id" validate:"optional" format:"uuid"`            // made by who sends it; makes a repeat safe
	Rig        string       `json:"rig" validate:"optional" example:"red-van.harbour-hall"` // in a batch
	Picture    string       `json:"picture" validate:"optional" example:"cam-1"`
	Sound      string       `json:"sound" validate:"optional" example:"lectern"`
	First      string       `json:"first" validate:"optional" example:"hand"`
	Second     string       `json:"second" validate:"optional" example:"lectern"` // offset: arrival of first minus arrival of second
	ReadAt     string       `json:"read_at" validate:"optional" example:"programme"`
	Method     string       `json:"method" example:"eye" enums:"eye,clip,tracks,clap"`
	Eye        string       `json:"eye" validate:"optional" example:"unknown" enums:"one-side,both-sides,unknown"`
	FrameRate  rateText     `json:"frame_rate" validate:"optional" swaggertype:"string" example:"29.97"` // of the recording; default the rig's
	CardSource *string      `json:"card_source" validate:"optional" extensions:"x-nullable" example:"tablet-p"`
	Readings   []NewReading `json:"readings"`
	Settings   []NewSetting `json:"settings" validate:"optional"`               // dialled in; default as recorded
	PowerUp    string       `json:"power_up" validate:"optional" example:"new"` // new, same or a label; default same within 12 hours, else new
	DistanceM  *float64     `json:"distance_m" validate:"optional" extensions:"x-nullable" example:"1.2"`
	AirC       *float64     `json:"air_c" validate:"optional" extensions:"x-nullable" example:"21"`
	EventSDMS  *float64     `json:"event_sd_ms" validate:"optional" extensions:"x-nullable" example:"0.4"` // clip, tracks: spread of the events about the value
	DriftPPM   *float64     `json:"drift_ppm" validate:"optional" extensions:"x-nullable" example:"2.1"`   // clip, tracks: growth of the offset, microseconds a second
	TakenAt    string       `json:"taken_at" validate:"optional" format:"date-time"`                       // default now
	Revision   *int         `json:"revision" validate:"optional" extensions:"x-nullable" example:"3"`      // default the one in force at taken_at
	Note       string       `json:"note" validate:"optional"`
} //	@name	NewMeasurement

// A NewReading is one event: frames with heard, or offset_ms.
type NewReading struct {
	Frames   number   `json:"frames" validate:"optional" swaggertype:"number" example:"5"` // a multiple of 0.5, never negative
	Heard    string   `json:"heard" validate:"optional" example:"early" enums:"early,late,in-sync"`
	OffsetMS *float64 `json:"offset_ms" validate:"optional" extensions:"x-nullable"` // positive: the sound is early
	UMS      *float64 `json:"u_ms" validate:"optional" extensions:"x-nullable"`      // standard uncertainty, ms
	AtS      *float64 `json:"at_s" validate:"optional" extensions:"x-nullable"`      // seconds into the recording
} //	@name	NewReading

// A NewSetting is the value of a control.
type NewSetting struct {
	Control string `json:"control" example:"lectern-delay"`
	Value   number `json:"value" swaggertype:"number" example:"6"`
} //	@name	NewSetting

func (in *NewMeasurement) toService() service.NewMeasurement {
	out := service.NewMeasurement{
		ClientID: in.ClientID, Rig: in.Rig, Picture: in.Picture, Sound: in.Sound, First: in.First, Second: in.Second,
		ReadAt: in.ReadAt, Method: in.Method, Eye: in.Eye, FrameRate: string(in.FrameRate), CardSource: text(in.CardSource),
		PowerUp: in.PowerUp, DistanceM: in.DistanceM, AirC: in.AirC, EventSDMS: in.EventSDMS, DriftPPM: in.DriftPPM, TakenAt: in.TakenAt, Revision: in.Revision, Note: in.Note,
		Settings: toSettings(in.Settings),
	}
	for _, r := range in.Readings {
		out.Readings = append(out.Readings, service.NewReading{
			Frames: string(r.Frames), Heard: r.Heard, OffsetMS: r.OffsetMS, UMS: r.UMS, AtS: r.AtS,
		})
	}
	return out
}

func toSettings(in []NewSetting) []service.NewSetting {
	var out []service.NewSetting
	for _, s := range in {
		out = append(out, service.NewSetting{Control: s.Control, Value: string(s.Value)})
	}
	return out
}

// A Measurement is one comparison of two chains as it was stored.
type Measurement struct {
	ID         string         `json:"id" format:"uuid"`
	ClientID   string         `json:"client_id" format:"uuid"`
	Rig        string         `json:"rig" example:"red-van.harbour-hall"`
	Revision   int            `json:"revision" example:"3"`
	First      string         `json:"first" example:"cam-1"`
	Second     string         `json:"second" example:"lectern"`
	Picture    *string        `json:"picture" extensions:"x-nullable" example:"cam-1"`
	Sound      *string        `json:"sound" extensions:"x-nullable" example:"lectern"`
	ReadAt     string         `json:"read_at" example:"programme"`
	Method     string         `json:"method" example:"eye" enums:"eye,clip,tracks,clap"`
	Eye        *string        `json:"eye" extensions:"x-nullable" example:"unknown"`
	FrameRate  string         `json:"frame_rate" example:"30000/1001"`
	CardSource *string        `json:"card_source" extensions:"x-nullable" example:"tablet-p"`
	Readings   []Reading      `json:"readings"`
	OffsetMS   float64        `json:"offset_ms" example:"166.833333"` // mean of the readings, with the settings dialled in
	Heard      string         `json:"heard" example:"sound early 5 frames (166.8 ms)"`
	Settings   []Setting      `json:"settings"`
	PowerUp    PowerUp        `json:"power_up"`
	DistanceM  *float64       `json:"distance_m" extensions:"x-nullable" example:"1.2"`
	AirC       *float64       `json:"air_c" extensions:"x-nullable" example:"21"`
	EventSDMS  *float64       `json:"event_sd_ms" extensions:"x-nullable" example:"0.4"` // spread of the events of a recording about its value
	DriftPPM   *float64       `json:"drift_ppm" extensions:"x-nullable" example:"2.1"`   // growth of the offset, microseconds a second
	Clip       *string        `json:"clip" extensions:"x-nullable" format:"uuid"`        // the recording that it was taken from: GET /v1/clips/ID
	TakenAt    time.Time      `json:"taken_at" format:"date-time"`
	RecordedAt time.Time      `json:"recorded_at" format:"date-time"`
	Note       string         `json:"note"`
	By         string         `json:"by" example:"tablet in the red van"`
	Version    domain.Version `json:"version" example:"1841"`
	Flags      []string       `json:"flags"` // what the estimates make of it, such as doubtful and cause:sign-swapped
	Struck     *Strike        `json:"struck" extensions:"x-nullable"`
} //	@name	Measurement

// A Reading is one event of a measurement.
type Reading struct {
	Frames   *number  `json:"frames" swaggertype:"number" extensions:"x-nullable" example:"5"`
	Heard    *string  `json:"heard" extensions:"x-nullable" example:"early"`
	OffsetMS float64  `json:"offset_ms" example:"166.833333"`
	UMS      *float64 `json:"u_ms" extensions:"x-nullable"`
	AtS      *float64 `json:"at_s" extensions:"x-nullable"`
} //	@name	Reading

// A Setting is the value of a control that was dialled in.
type Setting struct {
	Control string `json:"control" example:"lectern-delay"`
	Value   number `json:"value" swaggertype:"number" example:"6"`
} //	@name	Setting

// A PowerUp is a period in which nothing was switched off, re-plugged or changed.
type PowerUp struct {
	ID    string `json:"id" format:"uuid"`
	Label string `json:"label" example:"evening"`
} //	@name	PowerUp

func (s *server) fromMeasurement(v service.MeasurementView) (Measurement, error) {
	m := v.Measurement
	out := Measurement{
		ID: m.ID.String(), ClientID: m.ClientID.String(), Rig: v.Name(), Revision: m.Revision, First: string(m.First),
		Second: string(m.Second), ReadAt: string(m.ReadAt), Method: string(m.Method), FrameRate: m.FrameRate.String(),
		Readings: []Reading{}, Settings: []Setting{}, DistanceM: m.DistanceM, AirC: m.AirC, EventSDMS: m.EventSDMS, DriftPPM: m.DriftPPM, TakenAt: m.TakenAt, RecordedAt: v.RecordedAt, Note: m.Note,
		By: s.use.KeyLabel(m.By), Version: m.Version, Flags: orEmpty(v.Flags), Struck: s.fromStrike(m.Struck),
		PowerUp: PowerUp{ID: m.PowerUp.String(), Label: v.PowerUp.Label},
	}
	if m.FirstSig == domain.Picture && m.SecondSig == domain.Sound {
		out.Picture, out.Sound = &out.First, &out.Second
	}
	if m.Eye != "" {
		out.Eye = (*string)(&m.Eye)
	}
	if m.CardSource != "" {
		out.CardSource = (*string)(&m.CardSource)
	}
	if m.Clip != (domain.ClipID{}) {
		id := m.Clip.String()
		out.Clip = &id
	}
	for i := range m.Readings {
		out.Readings = append(out.Readings, fromReading(&m.Readings[i]))
	}
	for _, x := range m.Settings {
		out.Settings = append(out.Settings, Setting{Control: string(x.Control), Value: exact(x.Value)})
	}
	mean := v.MeanMS()
	out.OffsetMS, out.Heard = ms(mean), wording.Comparison(m, mean)
	return out, nil
}

func fromReading(r *domain.Reading) Reading {
	out := Reading{Frames: exactOrNil(r.Frames), OffsetMS: ms(r.OffsetMS), UMS: r.UMS, AtS: r.AtS}
	if r.Heard != "" {
		out.Heard = (*string)(&r.Heard)
	}
	return out
}

// listMeasurements lists the measurements of a rig, struck ones too, newest first.
//
//	@Summary	List the measurements of a rig
//	@Tags		measurements
//	@Produce	json
//	@Security	bearer
//	@Param		rig				path		string	true	"slug, CREW.SLUG or identifier"
//	@Param		page_size		query		int		false	"items per page, 1 to 200"
//	@Param		after			query		string	false	"next of the page before"
//	@Param		at				query		int		false	"book version to read"
//	@Success	200				{object}	List[Measurement]
//	@Success	304				"unchanged"
//	@Failure	401,404,409,422	{object}	Problem
//	@Router		/v1/rigs/{rig}/measurements [get]
func (s *server) listMeasurements(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	all, err := s.use.Measurements(c.Request().Context(), r, c.Param("rig"))
	if err != nil {
		return err
	}
	page, err := paged(c, all, func(v service.MeasurementView) string { return newestFirst(v.Version, v.ID.UUID) }, s.fromMeasurement)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// showMeasurement shows one measurement.
//
//	@Summary	Show a measurement
//	@Tags		measurements
//	@Produce	json
//	@Security	bearer
//	@Param		id			path		string	true	"identifier"
//	@Param		at			query		int		false	"book version to read"
//	@Success	200			{object}	Measurement
//	@Success	304			"unchanged"
//	@Failure	401,404,422	{object}	Problem
//	@Router		/v1/measurements/{id} [get]
func (s *server) showMeasurement(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	v, err := s.use.Measurement(c.Request().Context(), r, c.Param("id"))
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	out, err := s.fromMeasurement(v)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}

// strikeMeasurement takes a measurement out of the answers.
//
//	@Summary	Strike out a measurement
//	@Tags		measurements
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		id							path		string	true	"identifier"
//	@Param		Idempotency-Key				header		string	false	"makes the request safe to repeat"
//	@Param		reason						body		Reason	true	"why"
//	@Success	200							{object}	Measurement
//	@Failure	400,401,403,404,413,415,422	{object}	Problem
//	@Router		/v1/measurements/{id}/strike [post]
func (s *server) strikeMeasurement(c echo.Context) error {
	return s.changeMeasurement(c, s.use.StrikeMeasurement)
}

// restoreMeasurement takes back a strike.
//
//	@Summary	Restore a measurement
//	@Tags		measurements
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		id							path		string	true	"identifier"
//	@Param		Idempotency-Key				header		string	false	"makes the request safe to repeat"
//	@Param		reason						body		Reason	true	"why"
//	@Success	200							{object}	Measurement
//	@Failure	400,401,403,404,413,415,422	{object}	Problem
//	@Router		/v1/measurements/{id}/restore [post]
func (s *server) restoreMeasurement(c echo.Context) error {
	return s.changeMeasurement(c, s.use.RestoreMeasurement)
}

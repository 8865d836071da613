package api

import (
	"net/http"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

// A NewMode adds a mode to a device.
type NewMode struct {
	Slug       string   `json:"slug" example:"1080p2997"` // unique in the device
	Format     string   `json:"format" validate:"optional" example:"1080p29.97"`
	Scan       string   `json:"scan" validate:"optional" example:"progressive" enums:"progressive,interlaced,psf"`
	FrameRate  rateText `json:"frame_rate" validate:"optional" swaggertype:"string" example:"30000/1001"` // frames per second: 1080i59.94 has 29.97
	Firmware   string   `json:"firmware" validate:"optional" example:"1.4"`
	Processing string   `json:"processing" validate:"optional" example:"noise reduction off"`
	Port       string   `json:"port" validate:"optional" example:"programme"`
	Shutter    string   `json:"shutter" validate:"optional" example:"1/60"`
	Direct     []string `json:"direct" validate:"optional" enums:"picture,sound"` // signals that pass with no delay at all
	Varies     bool     `json:"varies" validate:"optional"`                       // the delay differs from connection to connection
} //	@name	NewMode

func (in NewMode) toService() service.NewMode {
	return service.NewMode{
		Slug: in.Slug, Format: in.Format, Scan: in.Scan, FrameRate: string(in.FrameRate), Firmware: in.Firmware,
		Processing: in.Processing, Port: in.Port, Shutter: in.Shutter, Direct: in.Direct, Varies: in.Varies,
	}
}

// A Mode is one way in which a device is set.
type Mode struct {
	ID             string   `json:"id" format:"uuid"`
	Slug           string   `json:"slug" example:"1080p2997"`
	Format         string   `json:"format" example:"1080p29.97"`
	Scan           *string  `json:"scan" extensions:"x-nullable" example:"progressive"`
	FrameRate      *string  `json:"frame_rate" extensions:"x-nullable" example:"30000/1001"`
	FrameRateLabel *string  `json:"frame_rate_label" extensions:"x-nullable" example:"29.97"`
	Firmware       string   `json:"firmware" example:"1.4"`
	Processing     string   `json:"processing"`
	Port           string   `json:"port" example:"programme"`
	Shutter        string   `json:"shutter"`
	Direct         []string `json:"direct"`
	Varies         bool     `json:"varies"`
	Retired        bool     `json:"retired"`
} //	@name	Mode

func fromMode(m *domain.Mode) Mode {
	out := Mode{
		ID: m.ID.String(), Slug: string(m.Slug), Format: m.Format, Firmware: m.Firmware, Processing: m.Processing,
		Port: m.Port, Shutter: m.Shutter, Varies: m.Varies, Retired: m.Retired, Direct: []string{},
	}
	if m.Scan != "" {
		scan := string(m.Scan)
		out.Scan = &scan
	}
	if !m.FrameRate.IsZero() {
		rate, label := m.FrameRate.String(), m.FrameRate.Label()
		out.FrameRate, out.FrameRateLabel = &rate, &label
	}
	for _, s := range m.Direct {
		out.Direct = append(out.Direct, string(s))
	}
	return out
}

// A NewControl adds a control to a device.
type NewControl struct {
	Slug       string   `json:"slug" example:"mic-1-delay"` // unique in the device
	Signal     string   `json:"signal" example:"sound" enums:"picture,sound"`
	Unit       string   `json:"unit" example:"frame" enums:"frame,ms,sample"`
	Rate       rateText `json:"rate" validate:"optional" swaggertype:"string" example:"30000/1001"`      // of a control that counts frames; default the rig's
	SampleRate *int64   `json:"sample_rate" validate:"optional" extensions:"x-nullable" example:"48000"` // of a control that counts samples
	Step       number   `json:"step" validate:"optional" swaggertype:"number" example:"1"`               // default 1
	Min        number   `json:"min" validate:"optional" swaggertype:"number" example:"0"`                // default 0
	Max        number   `json:"max" swaggertype:"number" example:"8"`
	Where      string   `json:"where" validate:"optional" example:"audio page, input 5"`
	ActsOn     string   `json:"acts_on" validate:"optional" example:"this input, before the mix"`
	EngagedMS  *float64 `json:"engaged_ms" validate:"optional" extensions:"x-nullable" example:"0"` // delay added by merely engaging it, ms
	Ours       *bool    `json:"ours" validate:"optional" extensions:"x-nullable" example:"true"`    // false: counted, never moved
} //	@name	NewControl

func (in NewControl) toService() service.NewControl {
	return service.NewControl{
		Slug: in.Slug, Signal: in.Signal, Unit: in.Unit, Rate: string(in.Rate), SampleRate: in.SampleRate, Step: string(in.Step),
		Min: string(in.Min), Max: string(in.Max), Where: in.Where, ActsOn: in.ActsOn, EngagedMS: in.EngagedMS, Ours: in.Ours,
	}
}

// A Control delays one signal of a device.
type Control struct {
	ID         string  `json:"id" format:"uuid"`
	Slug       string  `json:"slug" example:"mic-1-delay"`
	Signal     string  `json:"signal" example:"sound" enums:"picture,sound"`
	Unit       string  `json:"unit" example:"frame" enums:"frame,ms,sample"`
	Rate       *string `json:"rate" extensions:"x-nullable" example:"30000/1001"`
	SampleRate *int64  `json:"sample_rate" extensions:"x-nullable" example:"48000"`
	Step       number  `json:"step" swaggertype:"number" example:"1"`
	Min        number  `json:"min" swaggertype:"number" example:"0"`
	Max        number  `json:"max" swaggertype:"number" example:"8"`
	Where      string  `json:"where" example:"audio page, input 5"`
	ActsOn     string  `json:"acts_on" example:"this input, before the mix"`
	EngagedMS  float64 `json:"engaged_ms" example:"0"`
	Ours       bool    `json:"ours" example:"true"`
	Retired    bool    `json:"retired"`
} //	@name	Control

func fromControl(x *domain.Control) Control {
	out := Control{
		ID: x.ID.String(), Slug: string(x.Slug), Signal: string(x.Signal), Unit: string(x.Unit), Step: exact(x.Step),
		Min: exact(x.Min), Max: exact(x.Max), Where: x.Where, ActsOn: x.ActsOn, EngagedMS: x.EngagedMS, Ours: x.Ours, Retired: x.Retired,
	}
	if !x.Rate.IsZero() {
		rate := x.Rate.String()
		out.Rate = &rate
	}
	if !x.SampleRate.IsZero() {
		hz := x.SampleRate.Hz()
		out.SampleRate = &hz
	}
	return out
}

// A NewUnit adds a unit to a device.
type NewUnit struct {
	Tag   string `json:"tag" example:"S-002"` // asset tag, unique in the device
	Notes string `json:"notes" validate:"optional" example:"repaired in May"`
} //	@name	NewUnit

// A Unit is one physical item of a device.
type Unit struct {
	ID      string `json:"id" format:"uuid"`
	Tag     string `json:"tag" example:"S-002"`
	Notes   string `json:"notes"`
	Retired bool   `json:"retired"`
} //	@name	Unit

// createMode adds a mode to a device.
//
//	@Summary	Add a mode
//	@Tags		catalogue
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		device						path		string	true	"slug or identifier"
//	@Param		Idempotency-Key				header		string	false	"makes the request safe to repeat"
//	@Param		mode						body		NewMode	true	"the mode"
//	@Success	201							{object}	Device
//	@Failure	400,401,403,404,413,415,422	{object}	Problem
//	@Router		/v1/devices/{device}/modes [post]
func (s *server) createMode(c echo.Context) error {
	var in NewMode
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	return s.madeDevice(c)(s.use.AddMode(c.Request().Context(), r, c.Param("device"), in.toService()))
}

// createControl adds a control to a device.
//
//	@Summary	Add a control
//	@Tags		catalogue
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		device						path		string		true	"slug or identifier"
//	@Param		Idempotency-Key				header		string		false	"makes the request safe to repeat"
//	@Param		control						body		NewControl	true	"the control"
//	@Success	201							{object}	Device
//	@Failure	400,401,403,404,413,415,422	{object}	Problem
//	@Router		/v1/devices/{device}/controls [post]
func (s *server) createControl(c echo.Context) error {
	var in NewControl
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	return s.madeDevice(c)(s.use.AddControl(c.Request().Context(), r, c.Param("device"), in.toService()))
}

// createUnit adds a unit to a device.
//
//	@Summary	Add a unit
//	@Tags		catalogue
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		device						path		string	true	"slug or identifier"
//	@Param		Idempotency-Key				header		string	false	"makes the request safe to repeat"
//	@Param		unit						body		NewUnit	true	"the unit"
//	@Success	201							{object}	Device
//	@Failure	400,401,403,404,413,415,422	{object}	Problem
//	@Router		/v1/devices/{device}/units [post]
func (s *server) createUnit(c echo.Context) error {
	var in NewUnit
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	return s.madeDevice(c)(s.use.AddUnit(c.Request().Context(), r, c.Param("device"), service.NewUnit(in)))
}

// deleteMode retires a mode: rigs that have it keep it.
//
//	@Summary	Retire a mode
//	@Tags		catalogue
//	@Produce	json
//	@Security	bearer
//	@Param		device		path		string	true	"slug or identifier"
//	@Param		mode		path		string	true	"slug"
//	@Success	200			{object}	Device
//	@Failure	401,403,404	{object}	Problem
//	@Router		/v1/devices/{device}/modes/{mode} [delete]
func (s *server) deleteMode(c echo.Context) error {
	return s.retire(c, service.ModePart, c.Param("mode"))
}

// deleteControl retires a control: rigs that have it keep it.
//
//	@Summary	Retire a control
//	@Tags		catalogue
//	@Produce	json
//	@Security	bearer
//	@Param		device		path		string	true	"slug or identifier"
//	@Param		control		path		string	true	"slug"
//	@Success	200			{object}	Device
//	@Failure	401,403,404	{object}	Problem
//	@Router		/v1/devices/{device}/controls/{control} [delete]
func (s *server) deleteControl(c echo.Context) error {
	return s.retire(c, service.ControlPart, c.Param("control"))
}

// deleteUnit retires a unit: rigs that have it keep it.
//
//	@Summary	Retire a unit
//	@Tags		catalogue
//	@Produce	json
//	@Security	bearer
//	@Param		device		path		string	true	"slug or identifier"
//	@Param		unit		path		string	true	"asset tag"
//	@Success	200			{object}	Device
//	@Failure	401,403,404	{object}	Problem
//	@Router		/v1/devices/{device}/units/{unit} [delete]
func (s *server) deleteUnit(c echo.Context) error {
	return s.retire(c, service.UnitPart, c.Param("unit"))
}

func (s *server) retire(c echo.Context, part service.Part, name string) error {
	r, err := writing(c, nil)
	if err != nil {
		return err
	}
	d, err := s.use.RetirePart(c.Request().Context(), r, c.Param("device"), part, name)
	if err != nil {
		return err
	}
	out, _ := fromDevice(d)
	return answer(c, http.StatusOK, out)
}

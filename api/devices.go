package api

import (
	"net/http"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/labstack/echo/v4"
)

// A NewDevice adds a device to the catalogue.
type NewDevice struct {
	Slug     string       `json:"slug" example:"mixer-s"` // unique in the company
	Name     string       `json:"name" example:"Video switcher, type S"`
	Kind     string       `json:"kind" example:"video switcher"`
	Notes    string       `json:"notes" validate:"optional"`
	Modes    []NewMode    `json:"modes" validate:"optional"`
	Controls []NewControl `json:"controls" validate:"optional"`
	Units    []NewUnit    `json:"units" validate:"optional"`
} //	@name	NewDevice

func (in NewDevice) toService() service.NewDevice {
	out := service.NewDevice{Slug: in.Slug, Name: in.Name, Kind: in.Kind, Notes: in.Notes}
	for _, m := range in.Modes {
		out.Modes = append(out.Modes, m.toService())
	}
	for _, c := range in.Controls {
		out.Controls = append(out.Controls, c.toService())
	}
	for _, u := range in.Units {
		out.Units = append(out.Units, service.NewUnit(u))
	}
	return out
}

// A Device is a model of equipment in the catalogue.
type Device struct {
	ID       string         `json:"id" format:"uuid"`
	Slug     string         `json:"slug" example:"mixer-s"`
	Name     string         `json:"name" example:"Video switcher, type S"`
	Kind     string         `json:"kind" example:"video switcher"`
	Notes    string         `json:"notes"`
	Modes    []Mode         `json:"modes"`
	Controls []Control      `json:"controls"`
	Units    []Unit         `json:"units"`
	Retired  bool           `json:"retired"`
	Version  domain.Version `json:"version" example:"12"` // book version that last changed it
} //	@name	Device

func fromDevice(d *domain.Device) (Device, error) {
	out := Device{
		ID: d.ID.String(), Slug: string(d.Slug), Name: d.Name, Kind: string(d.Kind), Notes: d.Notes,
		Retired: d.Retired, Version: d.Version, Modes: []Mode{}, Controls: []Control{}, Units: []Unit{},
	}
	for i := range d.Modes {
		out.Modes = append(out.Modes, fromMode(&d.Modes[i]))
	}
	for i := range d.Controls {
		out.Controls = append(out.Controls, fromControl(&d.Controls[i]))
	}
	for _, u := range d.Units {
		out.Units = append(out.Units, Unit{ID: u.ID.String(), Tag: u.Tag, Notes: u.Notes, Retired: u.Retired})
	}
	return out, nil
}

// listDevices lists the catalogue.
//
//	@Summary	List devices
//	@Tags		catalogue
//	@Produce	json
//	@Security	bearer
//	@Param		page_size	query		int		false	"items per page, 1 to 200"
//	@Param		after		query		string	false	"next of the page before"
//	@Param		at			query		int		false	"book version to read"
//	@Success	200			{object}	List[Device]
//	@Success	304			"unchanged"
//	@Failure	401,422		{object}	Problem
//	@Router		/v1/devices [get]
func (s *server) listDevices(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	if done, err := s.unchanged(c, r, echo.MIMEApplicationJSON); done || err != nil {
		return err
	}
	all, err := s.use.Devices(c.Request().Context(), r)
	if err != nil {
		return err
	}
	page, err := paged(c, all, func(d *domain.Device) string { return string(d.Slug) }, fromDevice)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// createDevice adds a device to the catalogue.
//
//	@Summary	Add a device
//	@Tags		catalogue
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		Idempotency-Key				header		string		false	"makes the request safe to repeat"
//	@Param		device						body		NewDevice	true	"the device with its modes, controls and units"
//	@Success	201							{object}	Device
//	@Failure	400,401,403,409,413,415,422	{object}	Problem
//	@Router		/v1/devices [post]
func (s *server) createDevice(c echo.Context) error {
	var in NewDevice
	r, err := decodeWrite(c, &in)
	if err != nil {
		return err
	}
	return s.madeDevice(c)(s.use.AddDevice(c.Request().Context(), r, in.toService()))
}

// madeDevice answers 201 with a device, where a part of it was made too.
func (s *server) madeDevice(c echo.Context) func(*domain.Device, error) error {
	return func(d *domain.Device, err error) error {
		if err != nil {
			return err
		}
		out, _ := fromDevice(d)
		return created(c, "/v1/devices/"+out.Slug, d.Version, out)
	}
}

// showDevice shows one device.
//
//	@Summary	Show a device
//	@Tags		catalogue
//	@Produce	json
//	@Security	bearer
//	@Param		device		path		string	true	"slug or identifier"
//	@Param		at			query		int		false	"book version to read"
//	@Success	200			{object}	Device
//	@Success	304			"unchanged"
//	@Failure	401,404,422	{object}	Problem
//	@Router		/v1/devices/{device} [get]
func (s *server) showDevice(c echo.Context) error {
	r, err := reading(c)
	if err != nil {
		return err
	}
	d, err := s.use.Device(c.Request().Context(), r, c.Param("device"))
	if err != nil {
		return err
	}
	if done, err := unchangedStored(c, d.Version); done || err != nil {
		return err
	}
	out, _ := fromDevice(d)
	return stored(c, d.Version, out)
}

// A DevicePatch changes plain fields of a device (RFC 7396). Modes, controls and
// units have paths of their own.
type DevicePatch struct {
	Slug  *string `json:"slug" validate:"optional" example:"mixer-s"`
	Name  *string `json:"name" validate:"optional" example:"Video switcher, type S"`
	Kind  *string `json:"kind" validate:"optional" example:"video switcher"`
	Notes *string `json:"notes" validate:"optional" extensions:"x-nullable"` // null empties it
} //	@name	DevicePatch

// patchDevice changes plain fields of a device.
//
//	@Summary	Change a device
//	@Tags		catalogue
//	@Accept		json
//	@Produce	json
//	@Security	bearer
//	@Param		device									path		string		true	"slug or identifier"
//	@Param		If-Match								header		string		true	"ETag of the copy that is changed, or *"
//	@Param		Idempotency-Key							header		string		false	"makes the request safe to repeat"
//	@Param		patch									body		DevicePatch	true	"the fields to change (JSON merge patch)"
//	@Success	200										{object}	Device
//	@Failure	400,401,403,404,409,412,413,415,422,428	{object}	Problem
//	@Router		/v1/devices/{device} [patch]
func (s *server) patchDevice(c echo.Context) error {
	body, err := readBody(c, maxBody, echo.MIMEApplicationJSON, mergePatch)
	if err != nil {
		return err
	}
	var members map[string]jsontext.Value
	var in DevicePatch
	if err := decodeJSON(body, &members); err != nil {
		return err
	}
	for name, value := range members {
		if value.Kind() == 'n' && name != "notes" {
			return fault(jsontext.Pointer("/"+name), "it can not be taken away", "a value, or leave it out")
		}
	}
	if err := decodeJSON(body, &in); err != nil {
		return err
	}
	if _, given := members["notes"]; given && in.Notes == nil {
		in.Notes = new(string)
	}
	r, err := writing(c, body)
	if err != nil {
		return err
	}
	d, err := s.use.PatchDevice(c.Request().Context(), r, c.Param("device"), ifMatch(c), service.DevicePatch(in))
	if err != nil {
		return err
	}
	out, _ := fromDevice(d)
	return stored(c, d.Version, out)
}

// deleteDevice retires a device: it stays where it was used.
//
//	@Summary	Retire a device
//	@Tags		catalogue
//	@Security	bearer
//	@Param		device					path	string	true	"slug or identifier"
//	@Param		If-Match				header	string	true	"ETag of the copy that is retired, or *"
//	@Success	204						"retired"
//	@Failure	401,403,404,409,412,428	{object}	Problem
//	@Router		/v1/devices/{device} [delete]
func (s *server) deleteDevice(c echo.Context) error {
	r, err := writing(c, nil)
	if err != nil {
		return err
	}
	if err := s.use.RetireDevice(c.Request().Context(), r, c.Param("device"), ifMatch(c)); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

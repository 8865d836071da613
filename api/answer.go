package api

import (
	"net/http"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/go-json-experiment/json"
	"github.com/labstack/echo/v4"
)

// answer sends a JSON answer. Lists are never null.
func answer(c echo.Context, status int, out any) error {
	body, err := encodeJSON(out)
	if err != nil {
		return err
	}
	return c.Blob(status, echo.MIMEApplicationJSON, body)
}

func encodeJSON(out any) ([]byte, error) { return json.Marshal(out, json.Deterministic(true)) }

// created answers that a resource was made: where it is and which copy this is.
func created(c echo.Context, location string, v domain.Version, out any) error {
	c.Response().Header().Set(echo.HeaderLocation, location)
	c.Response().Header().Set("ETag", storedTag(v))
	return answer(c, http.StatusCreated, out)
}

// stored answers with a resource as it is stored now.
func stored(c echo.Context, v domain.Version, out any) error {
	c.Response().Header().Set("ETag", storedTag(v))
	return answer(c, http.StatusOK, out)
}

// decodeWrite reads the body of a write into in.
func decodeWrite(c echo.Context, in any) (service.Request, error) {
	body, err := decode(c, in)
	if err != nil {
		return service.Request{}, err
	}
	return writing(c, body)
}

package api

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"delaybook/domain"

	"github.com/go-json-experiment/json"
	"github.com/labstack/echo/v4"
	"github.com/tus/tusd/v2/pkg/handler"
)

// A tusAnswer keeps back the plain text of an error, and makes Location a path:
// the library guesses the scheme, and guesses wrong behind a proxy.
type tusAnswer struct {
	http.ResponseWriter
	problem int
	text    []byte
}

func (a *tusAnswer) WriteHeader(status int) {
	if status >= http.StatusBadRequest {
		a.problem = status
		a.Header().Del(echo.HeaderContentLength)
		a.Header().Del(echo.HeaderContentType)
		return
	}
	if at, err := url.Parse(a.Header().Get(echo.HeaderLocation)); err == nil && at.Path != "" {
		a.Header().Set(echo.HeaderLocation, at.Path)
	}
	a.ResponseWriter.WriteHeader(status)
}

func (a *tusAnswer) Write(p []byte) (int, error) {
	if a.problem != 0 {
		a.text = append(a.text, p...)
		return len(p), nil
	}
	return a.ResponseWriter.Write(p)
}

// Unwrap lets the library set deadlines.
func (a *tusAnswer) Unwrap() http.ResponseWriter { return a.ResponseWriter }

// asTus wraps an error for the way through the library.
func asTus(err error) error {
	e, ok := errors.AsType[*domain.Error](err)
	if !ok || e.Code == domain.Internal {
		return err
	}
	body, failed := json.Marshal(e.Fields)
	if failed != nil {
		return err
	}
	return handler.Error{
		ErrorCode: tusOwn, Message: e.Message,
		HTTPResponse: handler.HTTPResponse{StatusCode: kinds[e.Code].Status, Body: tusOwn + string(e.Code) + "\n" + e.Message + "\n" + string(body)},
	}
}

// tusOwn begins the text of an error that asTus wrapped.
const tusOwn = "delaybook "

// fromTus unwraps what asTus wrapped.
func fromTus(err error) error {
	if e, ok := errors.AsType[handler.Error](err); ok {
		return tusProblem(e.HTTPResponse.StatusCode, e.HTTPResponse.Body)
	}
	return err
}

// tusProblem makes an error of the answer of the library.
func tusProblem(status int, text string) error {
	if own, ok := strings.CutPrefix(text, tusOwn); ok {
		parts := strings.SplitN(own, "\n", 3)
		e := &domain.Error{Code: domain.Code(parts[0]), Message: parts[1]}
		return errors.Join(e, json.Unmarshal([]byte(parts[2]), &e.Fields))
	}
	_, said, _ := strings.Cut(strings.TrimSpace(text), ": ")
	switch {
	case strings.Contains(text, "no space left"):
		return domain.Errorf(domain.Full, "The disk of the service is full: go on with the upload when there is room.")
	case status == http.StatusRequestEntityTooLarge:
		return domain.Errorf(domain.TooLarge, "The recording is larger than is taken: send a shorter part of it, or the same at a smaller size.")
	case status == http.StatusNotFound:
		return domain.Errorf(domain.NotFound, "There is no such upload: it became a clip, it expired, or it never was.")
	case status < http.StatusInternalServerError && slices.Contains(tusStatuses, status):
		return echo.NewHTTPError(status, "The tus protocol is not kept: "+said+".")
	}
	return errors.New(text)
}

// tusStatuses are those of the library's errors that a client can help.
var tusStatuses = []int{
	http.StatusBadRequest, http.StatusForbidden, http.StatusConflict, http.StatusPreconditionFailed, http.StatusUnsupportedMediaType,
	http.StatusLocked,
}

package api

import (
	"context"
	"errors"
	"net/http"
	"strconv"

	"delaybook/domain"

	"github.com/go-json-experiment/json"
	"github.com/labstack/echo/v4"
)

// A Problem says why a request failed (RFC 9457).
type Problem struct {
	Type   string         `json:"type" example:"/docs/problems#invalid"` // names the kind of problem
	Title  string         `json:"title" example:"The request is well-formed but wrong"`
	Status int            `json:"status" example:"422"`
	Detail string         `json:"detail" example:"The measurement is not valid."`
	Fields []ProblemField `json:"fields" validate:"optional"` // which inputs are wrong
} //	@name	Problem

// A ProblemField says what is wrong with one input.
type ProblemField struct {
	Pointer string `json:"pointer" example:"/readings/0/heard"` // JSON pointer into the body, or the name of a query parameter or header
	Detail  string `json:"detail" example:"\"soon\" is not what can be heard"`
	Send    string `json:"send" example:"early, late or in-sync: how the sound came"` // what to send instead
} //	@name	ProblemField

const problemJSON = "application/problem+json"

// A problemKind is what clients are told of one class of errors.
type problemKind struct {
	Status int
	Title  string
	Remedy string // what to do about it
}

var kinds = map[domain.Code]problemKind{
	domain.Malformed: {
		http.StatusBadRequest, "The request could not be read",
		"Send a body that is JSON, as the description of the path shows.",
	},
	domain.Invalid: {
		http.StatusUnprocessableEntity, "The request is well-formed but wrong",
		"Each entry of fields names a place in the request, what is wrong there, and what to send instead.",
	},
	domain.NotFound: {
		http.StatusNotFound, "There is no such thing",
		"Check the name. A key also finds nothing that its crew may not see.",
	},
	domain.Gone: {
		http.StatusGone, "It is deleted",
		"It was here and is not any more, as was announced. Send it again if you need it.",
	},
	domain.Conflict: {
		http.StatusConflict, "The request clashes with what is there",
		"Read what is there, then choose another name or leave the request.",
	},
	domain.Stale: {
		http.StatusPreconditionFailed, "Your copy is not the latest",
		"Somebody changed it since you read it. Read it again and send If-Match with the new ETag.",
	},
	domain.NeedsMatch: {
		http.StatusPreconditionRequired, "The request must say which copy it changes",
		"Send If-Match with the ETag of what you read, or * to overwrite whatever is there.",
	},
	domain.Denied: {
		http.StatusForbidden, "Your key may not do this",
		"Ask an admin for a key with the role that the detail names.",
	},
	domain.NoKey: {
		http.StatusUnauthorized, "A key is needed",
		"Send Authorization: Bearer and a key. An admin makes keys.",
	},
	domain.TooLarge: {
		http.StatusRequestEntityTooLarge, "The request is too large",
		"Send less at once: the detail says how much is taken.",
	},
	domain.Full: {
		http.StatusInsufficientStorage, "The service has no room",
		"Nothing was kept. Delete recordings that are no longer needed, or ask who runs the service for room.",
	},
	domain.Internal: {
		http.StatusInternalServerError, "Something went wrong on our side",
		"Send it again with the same client_id or Idempotency-Key, so that it counts once, or ask who runs the service for its log.",
	},
	unready: {
		http.StatusServiceUnavailable, "The service can not reach its book",
		"Nothing was changed. Wait as long as Retry-After says and send it again, with the same client_id or Idempotency-Key.",
	},
	making: {
		http.StatusServiceUnavailable, "The file is being made",
		"Wait as long as Retry-After says and ask for it again: making goes on meanwhile, and the file is kept.",
	},
	noEncoder: {
		http.StatusNotImplemented, "This service can not make media files",
		"Ask who runs the service to put its media program beside it. The card also plays in a browser.",
	},
}

// answerError turns an error into the one answer that a client sees. It is the
// only place that does.
func (s *server) answerError(err error, c echo.Context) {
	if c.Response().Committed {
		return
	}
	p := s.problemOf(err, c)
	if p.Status == http.StatusUnauthorized {
		c.Response().Header().Set("WWW-Authenticate", challenge(c))
	}
	if p.Status == http.StatusServiceUnavailable {
		c.Response().Header().Set("Retry-After", strconv.Itoa(retrySeconds))
	}
	// A tag that was set belongs to the answer that did not come.
	c.Response().Header().Del("ETag")
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	body, err := json.Marshal(p)
	if err == nil {
		err = c.Blob(p.Status, problemJSON, body)
	}
	if err != nil {
		s.log.ErrorContext(c.Request().Context(), "answer with a problem", "err", err)
	}
}

// challenge says how to authenticate, and that a key was sent and is no good if
// one was (RFC 6750, 3).
func challenge(c echo.Context) string {
	if c.Request().Header.Get(echo.HeaderAuthorization) == "" {
		return "Bearer"
	}
	return `Bearer error="invalid_token"`
}

// retrySeconds is how long a client waits before it asks an unready service again.
const retrySeconds = 2

func (s *server) problemOf(err error, c echo.Context) Problem {
	if e, ok := errors.AsType[*domain.Error](err); ok && e.Code != domain.Internal {
		return problem(e)
	}
	if e, ok := errors.AsType[*echo.HTTPError](err); ok && e.Code < http.StatusInternalServerError {
		return httpProblem(e, c)
	}
	ctx := c.Request().Context()
	if errors.Is(err, context.Canceled) && ctx.Err() != nil {
		return Problem{Type: "about:blank", Title: "The client left", Status: 499, Detail: "The request was given up."}
	}
	s.log.ErrorContext(ctx, "request failed", "method", c.Request().Method, "path", c.Path(), "err", err)
	if s.use.Ready(ctx) != nil {
		return problem(domain.Errorf(unready, "Nothing was changed. Send the request again in a moment, with the same client_id or Idempotency-Key."))
	}
	return problem(domain.Errorf(domain.Internal, "The request was not carried out. The log of the service says why."))
}

// problem returns an error that people may see as a problem.
func problem(e *domain.Error) Problem {
	kind := kinds[e.Code]
	p := Problem{Type: problemsPath + "#" + string(e.Code), Title: kind.Title, Status: kind.Status, Detail: e.Message}
	for _, f := range e.Fields {
		p.Fields = append(p.Fields, ProblemField(f))
	}
	return p
}

// httpProblem returns what the router refused as a problem.
func httpProblem(e *echo.HTTPError, c echo.Context) Problem {
	p := Problem{Type: "about:blank", Title: http.StatusText(e.Code), Status: e.Code}
	switch e.Code {
	case http.StatusNotFound:
		p.Detail = "There is nothing at this path. GET /openapi.json lists every path."
	case http.StatusMethodNotAllowed:
		p.Detail = "The path does not know the method; Allow lists those that it knows."
		if allow, ok := c.Get(echo.ContextKeyHeaderAllow).(string); ok {
			c.Response().Header().Set(echo.HeaderAllow, allow)
		}
	default:
		if text, ok := e.Message.(string); ok {
			p.Detail = text
		}
	}
	return p
}

func notAcceptable(types string) error {
	return echo.NewHTTPError(http.StatusNotAcceptable, "This answer comes as "+types+": ask for one of them with Accept.")
}

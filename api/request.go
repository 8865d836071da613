package api

import (
	"crypto/sha256"
	"regexp"
	"strconv"
	"strings"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/labstack/echo/v4"
)

const callerKey = "caller"

// authenticate lets only callers with a key pass, or with a session that the
// browser of a page sends along; what another site made it send does not count.
func (s *server) authenticate(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		if c.Request().Header.Get(echo.HeaderAuthorization) == "" && s.sessions.Has(c.Request()) {
			who, err := s.sessions.Of(c.Request())
			if err == nil {
				err = s.sessions.CheckOrigin(c.Request())
			}
			if err != nil {
				return err
			}
			c.Set(callerKey, who.Caller)
			return next(c)
		}
		key, ok := bearer(c.Request().Header.Get(echo.HeaderAuthorization))
		if !ok {
			return domain.Errorf(domain.NoKey, "Send Authorization: Bearer with your key.")
		}
		caller, err := s.use.Authenticate(c.Request().Context(), key)
		if err != nil {
			return err
		}
		c.Set(callerKey, caller)
		return next(c)
	}
}

// caller returns who asks; behind authenticate there always is somebody.
func caller(c echo.Context) service.Caller {
	who, _ := c.Get(callerKey).(service.Caller)
	return who
}

// reading returns the request of a read: the caller, and the version of ?at=.
func reading(c echo.Context) (service.Request, error) {
	r := service.Request{Caller: caller(c)}
	text := c.QueryParam("at")
	if text == "" {
		return r, nil
	}
	v, err := strconv.ParseInt(text, 10, 64)
	if err != nil || v < 1 {
		return r, badQuery("at", "it is not a version of the book", "the book_version of an answer")
	}
	r.At = domain.Version(v)
	return r, nil
}

// writing returns the request of a write whose body was read.
func writing(c echo.Context, body []byte) (service.Request, error) {
	r, err := onceOf(c)
	if err != nil || r.Once == "" {
		return r, err
	}
	sum := sha256.New()
	for _, part := range []string{c.Request().Method, c.Request().URL.Path, c.Request().URL.RawQuery, string(body)} {
		sum.Write([]byte(strconv.Itoa(len(part)) + ":" + part))
	}
	sum.Sum(r.Fingerprint[:0])
	return r, nil
}

// onceOf returns the request of a write without its fingerprint.
func onceOf(c echo.Context) (service.Request, error) {
	r := service.Request{Caller: caller(c)}
	if c.Request().Header.Get("If-None-Match") != "" {
		return r, domain.Errorf(domain.Stale, "A write that depends on If-None-Match is not carried out: send If-Match with the copy that you change, or neither.")
	}
	header := c.Request().Header.Get("Idempotency-Key")
	if header == "" {
		return r, nil
	}
	key, ok := onceKey(header)
	if !ok {
		return r, badQuery("Idempotency-Key", "it is not a key", "1 to 255 printable characters, quoted or bare, new for each request")
	}
	r.Once = key
	return r, nil
}

// quotedString is the form of a structured-field string (RFC 9651, 3.3.3).
var quotedString = regexp.MustCompile(`^"([^"\\]|\\["\\])*"$`)

// onceKey reads an idempotency key: a structured-field string, or bare.
func onceKey(header string) (string, bool) {
	key := strings.TrimSpace(header)
	if strings.HasPrefix(key, `"`) {
		if !quotedString.MatchString(key) {
			return "", false
		}
		key = strings.NewReplacer(`\"`, `"`, `\\`, `\`).Replace(key[1 : len(key)-1])
	}
	const most = 255
	if len(key) == 0 || len(key) > most {
		return "", false
	}
	for _, b := range []byte(key) {
		if b < ' ' || b > '~' {
			return "", false
		}
	}
	return key, true
}

func badQuery(name, detail, send string) error {
	var bad domain.Fields
	bad.Add(name, detail, send)
	return bad.Err("A parameter of the request is wrong.")
}

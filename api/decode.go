package api

import (
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"reflect"
	"strings"

	"delaybook/domain"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/labstack/echo/v4"
)

// The most bytes of a body.
const (
	maxBody      = 1 << 20
	maxBatchBody = 32 << 20
)

// mergePatch is the media type of RFC 7396.
const mergePatch = "application/merge-patch+json"

// readBody reads the body, which must have one of the media types; a request
// that names none is taken at its word.
func readBody(c echo.Context, most int64, types ...string) ([]byte, error) {
	if err := checkMedia(c, types...); err != nil {
		return nil, err
	}
	body, err := io.ReadAll(http.MaxBytesReader(c.Response(), c.Request().Body, most))
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return nil, domain.Errorf(domain.TooLarge, "The body is larger than %d bytes: send less at a time.", most)
	}
	if err != nil {
		return nil, unreadBody(err)
	}
	return body, nil
}

// checkMedia refuses a body that is named to be of another media type than types.
func checkMedia(c echo.Context, types ...string) error {
	named := c.Request().Header.Get(echo.HeaderContentType)
	if named == "" {
		return nil
	}
	media, params, err := mime.ParseMediaType(named)
	charset, given := params["charset"]
	if err != nil || !contains(types, media) || given && !strings.EqualFold(charset, "utf-8") {
		return echo.NewHTTPError(http.StatusUnsupportedMediaType, "Send the body as "+strings.Join(types, " or ")+", in UTF-8.")
	}
	return nil
}

func unreadBody(err error) error {
	return &domain.Error{Code: domain.Malformed, Message: "The body could not be read to its end: send it again.", Err: err}
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// decode reads the JSON body of a request into in, strictly, and returns its bytes.
func decode(c echo.Context, in any) ([]byte, error) {
	body, err := readBody(c, maxBody, echo.MIMEApplicationJSON)
	if err != nil {
		return nil, err
	}
	return body, decodeJSON(body, in)
}

// decodeJSON reads one JSON value into in, strictly.
func decodeJSON(body []byte, in any) error {
	if len(strings.TrimSpace(string(body))) == 0 {
		return &domain.Error{Code: domain.Malformed, Message: "The body is empty: send a JSON object."}
	}
	if strings.TrimSpace(string(body)) == "null" {
		return fault("", "it is null", wanted(reflect.TypeOf(in)))
	}
	// What is no JSON at all is said first, wherever it stands.
	if err := json.Unmarshal(body, new(jsontext.Value), jsontext.AllowDuplicateNames(true)); err != nil {
		return decodeError(err, in)
	}
	if err := json.Unmarshal(body, in, json.RejectUnknownMembers(true)); err != nil {
		return decodeError(err, in)
	}
	return nil
}

// decodeError says what is wrong with a body and what to send instead.
func decodeError(err error, in any) error {
	if e, ok := errors.AsType[*jsontext.SyntacticError](err); ok {
		if errors.Is(e.Err, jsontext.ErrDuplicateName) {
			return fault(e.JSONPointer, "the member is given twice", "each member once")
		}
		return &domain.Error{
			Code:    domain.Malformed,
			Message: fmt.Sprintf("The body is not JSON: at byte %d, %v. Send valid JSON in UTF-8.", e.ByteOffset, e.Err),
		}
	}
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return &domain.Error{Code: domain.Malformed, Message: "The body ends too early: send the whole JSON value."}
	}
	e, ok := errors.AsType[*json.SemanticError](err)
	if !ok {
		return fmt.Errorf("decode a request: %w", err)
	}
	if errors.Is(e.Err, json.ErrUnknownName) {
		return fault(e.JSONPointer, "there is no such member", "one of "+strings.Join(members(reflect.TypeOf(in), e.JSONPointer), ", "))
	}
	if e.Err != nil && e.GoType != nil && e.GoType.PkgPath() == reflect.TypeFor[number]().PkgPath() {
		return fault(e.JSONPointer, e.Err.Error(), wanted(e.GoType))
	}
	return fault(e.JSONPointer, fmt.Sprintf("it is %s", kindName(e.JSONKind)), wanted(e.GoType))
}

func fault(pointer jsontext.Pointer, detail, send string) error {
	var bad domain.Fields
	bad.Add(string(pointer), detail, send)
	return bad.Err("The body is JSON, but not what is expected here.")
}

func kindName(k jsontext.Kind) string {
	names := map[jsontext.Kind]string{
		'n': "null", 't': "true", 'f': "false", '"': "a text", '0': "a number", '{': "an object", '[': "a list",
	}
	if name, ok := names[k]; ok {
		return name
	}
	return "something else"
}

// wanted says what JSON a Go type is read from.
func wanted(t reflect.Type) string {
	if t == nil {
		return "another value"
	}
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch t {
	case reflect.TypeFor[number]():
		return "a number"
	case reflect.TypeFor[rateText]():
		return `a frame rate, such as "29.97" or "30000/1001"`
	case reflect.TypeFor[visibility]():
		return `"crew", "company" or a list of crew slugs`
	}
	switch t.Kind() {
	case reflect.String:
		return "a text"
	case reflect.Bool:
		return "true or false"
	case reflect.Slice, reflect.Array:
		return "a list"
	case reflect.Struct, reflect.Map:
		return "an object"
	case reflect.Int, reflect.Int64:
		return "a whole number"
	default:
		return "a number"
	}
}

// members lists the members that the object around pointer may have.
func members(t reflect.Type, pointer jsontext.Pointer) []string {
	for token := range pointer.Parent().Tokens() {
		t = inside(t, token)
	}
	t = inside(t, "")
	var names []string
	if t != nil && t.Kind() == reflect.Struct {
		for i := range t.NumField() {
			if name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ","); name != "" && name != "-" {
				names = append(names, name)
			}
		}
	}
	return names
}

// inside returns the type of a member or an element; "" only unwraps pointers.
func inside(t reflect.Type, token string) reflect.Type {
	for t != nil && t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch {
	case token == "" || t == nil:
		return t
	case t.Kind() == reflect.Slice:
		return t.Elem()
	case t.Kind() == reflect.Struct:
		for i := range t.NumField() {
			if name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ","); name == token {
				return t.Field(i).Type
			}
		}
	}
	return nil
}

// Package contract holds a running API against its OpenAPI document, in tests.
//
// [Handler] wraps the API's handler, and [Transport] a client's transport for tests of a whole server. Either one
// looks at each exchange and fails the test, naming the operation, the status and the place in the JSON, if
//
//   - the server answered a route or a status that the document does not have;
//   - the answer does not fit the schema of its status, has an undocumented property, or another media type;
//   - the server accepted a request (a status below 400) that the document calls wrong.
//
// A 404 or 405 for a route that the document does not have either is in order, as long as it is a problem. Who may
// call is not checked: the document says which keys a route takes, and only the server knows whether one is good.
//
// It is for tests only, and imports nothing of the rest of the program.
package contract

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/gorillamux"
)

// An exchange is a request that was sent and the answer that came, with both bodies read to the end.
type exchange struct {
	request      *http.Request
	requestBody  []byte
	status       int
	header       http.Header
	responseBody []byte
}

// A contract is a document that is ready to be held against exchanges. It is safe for concurrent use.
type contract struct{ router routers.Router }

// loaded keeps each document for the whole test binary: reading one takes longer than most tests that use it.
var loaded sync.Map // [sha256.Size]byte → func() (*contract, error)

func load(doc []byte) (*contract, error) {
	once, _ := loaded.LoadOrStore(sha256.Sum256(doc), sync.OnceValues(func() (*contract, error) { return parse(doc) }))
	return once.(func() (*contract, error))()
}

func parse(doc []byte) (*contract, error) {
	registerDecoders()
	spec, err := openapi3.NewLoader().LoadFromData(doc)
	if err != nil {
		return nil, fmt.Errorf("reading the OpenAPI document: %w", err)
	}
	if err := spec.Validate(context.Background()); err != nil {
		return nil, fmt.Errorf("the OpenAPI document is not valid: %w", err)
	}
	closeSchemas(spec)
	spec.Servers = nil // a test's server has any host; the paths are written out in full
	router, err := gorillamux.NewRouter(spec)
	if err != nil {
		return nil, fmt.Errorf("routes of the OpenAPI document: %w", err)
	}
	return &contract{router: router}, nil
}

// check reports how the exchange breaks the document, or nil.
func (c *contract) check(ctx context.Context, x exchange) error {
	req := x.request.Clone(ctx)
	req.Body = io.NopCloser(bytes.NewReader(x.requestBody))
	req.ContentLength = int64(len(x.requestBody))
	req.GetBody = nil

	route, params, err := c.router.FindRoute(req)
	if err != nil {
		return c.checkUnknown(x)
	}
	where := fmt.Sprintf("%s %s answered %d", route.Method, route.Path, x.status)
	input := &openapi3filter.RequestValidationInput{
		Request: req, PathParams: params, Route: route, Options: options(),
	}
	var faults []error
	if x.status < http.StatusBadRequest {
		if err := openapi3filter.ValidateRequest(ctx, input); err != nil {
			faults = append(faults, fmt.Errorf("%s to a request that the document calls wrong: %w", where, err))
		}
	}
	if err := checkResponse(ctx, input, x); err != nil {
		faults = append(faults, fmt.Errorf("%s: %w", where, err))
	}
	return errors.Join(faults...)
}

func options() *openapi3filter.Options {
	o := &openapi3filter.Options{
		AuthenticationFunc:    openapi3filter.NoopAuthenticationFunc,
		IncludeResponseStatus: true,
		SkipSettingDefaults:   true,
		MultiError:            true,
	}
	o.WithCustomSchemaErrorFunc(describe)
	return o
}

// describe says where in the JSON a value breaks its schema, and which value. The library's own message prints the
// whole schema, a page of text for each fault.
func describe(fault *openapi3.SchemaError) string {
	if fault.Origin != nil {
		return "" // the fault of a composition: the parts say more
	}
	const most = 120 // bytes of the value: enough to find it in the answer
	value, err := json.Marshal(fault.Value)
	if err != nil {
		value = fmt.Appendf(nil, "%v", fault.Value)
	}
	if len(value) > most {
		value = append(value[:most:most], "..."...)
	}
	return fmt.Sprintf("at /%s: %s (the value is %s)", strings.Join(fault.JSONPointer(), "/"), fault.Reason, value)
}

// checkUnknown judges the answer on a route that the document does not have.
func (c *contract) checkUnknown(x exchange) error {
	refused := x.status == http.StatusNotFound || x.status == http.StatusMethodNotAllowed
	if refused && isProblem(x.header) {
		return nil
	}
	return fmt.Errorf("%s %s answered %d %s, but the document has no such operation: add its @Router comment and run "+
		"make generate, or answer 404 with a problem", x.request.Method, x.request.URL.Path, x.status, x.header.Get("Content-Type"))
}

func checkResponse(ctx context.Context, input *openapi3filter.RequestValidationInput, x exchange) error {
	responses := input.Route.Operation.Responses
	documented := responses.Status(x.status)
	if documented == nil {
		documented = responses.Default()
	}
	if documented == nil || documented.Value == nil {
		return errors.New("the document does not have this status: add it to the handler's @Success or @Failure")
	}
	if (x.status == http.StatusNoContent || x.status == http.StatusNotModified) && len(x.responseBody) > 0 {
		return fmt.Errorf("a body of %d bytes where HTTP allows none", len(x.responseBody))
	}
	if len(documented.Value.Content) == 0 && len(x.responseBody) > 0 {
		return fmt.Errorf("a body of type %q, but the document has none", x.header.Get("Content-Type"))
	}
	answer := &openapi3filter.ResponseValidationInput{
		RequestValidationInput: input, Status: x.status, Header: x.header, Options: input.Options,
	}
	answer.SetBodyBytes(x.responseBody)
	return openapi3filter.ValidateResponse(ctx, answer)
}

func isProblem(header http.Header) bool {
	media, _, _ := strings.Cut(header.Get("Content-Type"), ";")
	return strings.TrimSpace(media) == "application/problem+json"
}

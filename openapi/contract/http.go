package contract

import (
	"bytes"
	"io"
	"net/http"
	"testing"
)

// Handler answers as next does, and fails the test when an exchange breaks doc, an OpenAPI 3 document as JSON. The
// test goes on: the fault is reported with tb.Errorf once next has returned.
//
// A document that is not valid ends the test at once. The handler must not be used after the test has ended. What
// next writes is passed on at once and kept in memory as well.
func Handler(tb testing.TB, doc []byte, next http.Handler) http.Handler {
	tb.Helper()
	c, err := load(doc)
	if err != nil {
		tb.Fatal(err)
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		x := exchange{request: r.Clone(r.Context())}
		var sent bytes.Buffer
		if r.Body != nil {
			// next reads through the copy, so that its own limits and time-outs are still what is tested.
			r.Body = readCloser{io.TeeReader(r.Body, &sent), r.Body}
		}
		rec := &recorder{ResponseWriter: w, status: http.StatusOK}
		next.ServeHTTP(rec, r)
		x.status, x.header, x.responseBody = rec.status, rec.header(), rec.body.Bytes()
		if r.Body != nil && x.status < http.StatusBadRequest {
			_, _ = io.Copy(io.Discard, r.Body) // a handler that has what it needs may leave the rest
		}
		x.requestBody = sent.Bytes()
		if err := c.check(x.request.Context(), x); err != nil {
			tb.Errorf("contract: %v", err)
		}
	})
}

type readCloser struct {
	io.Reader
	io.Closer
}

// recorder keeps a copy of what it passes on.
type recorder struct {
	http.ResponseWriter
	status int
	sent   http.Header // the header as it was when the status was written
	body   bytes.Buffer
}

func (r *recorder) WriteHeader(status int) {
	if r.sent == nil && status >= http.StatusOK {
		r.status, r.sent = status, r.Header().Clone()
	}
	r.ResponseWriter.WriteHeader(status)
}

func (r *recorder) Write(p []byte) (int, error) {
	if r.sent == nil {
		r.WriteHeader(http.StatusOK)
	}
	r.body.Write(p)
	return r.ResponseWriter.Write(p)
}

// Unwrap lets http.ResponseController reach the writer below, for streams that flush.
func (r *recorder) Unwrap() http.ResponseWriter { return r.ResponseWriter }

// Flush is for handlers that ask for an http.Flusher the old way.
func (r *recorder) Flush() {
	if r.sent == nil {
		r.WriteHeader(http.StatusOK)
	}
	_ = http.NewResponseController(r.ResponseWriter).Flush()
}

func (r *recorder) header() http.Header {
	if r.sent == nil {
		return r.Header()
	}
	return r.sent
}

// Transport sends as next does, and fails the test when an exchange breaks doc, an OpenAPI 3 document as JSON. It is
// for tests of a whole server; next nil means [http.DefaultTransport].
//
// An answer is read to its end before it is handed on, so that it does not suit a stream that the test cuts short.
func Transport(tb testing.TB, doc []byte, next http.RoundTripper) http.RoundTripper {
	tb.Helper()
	c, err := load(doc)
	if err != nil {
		tb.Fatal(err)
	}
	if next == nil {
		next = http.DefaultTransport
	}
	return roundTripper(func(r *http.Request) (*http.Response, error) {
		x := exchange{request: r.Clone(r.Context())}
		out := r.Clone(r.Context())
		if r.Body != nil {
			// Read first: the transport may go on reading a body after the answer has come.
			sent, err := io.ReadAll(r.Body)
			_ = r.Body.Close()
			if err != nil {
				return nil, err
			}
			x.requestBody, out.Body = sent, io.NopCloser(bytes.NewReader(sent))
		}
		response, err := next.RoundTrip(out)
		if err != nil {
			return nil, err
		}
		body, err := io.ReadAll(response.Body)
		_ = response.Body.Close()
		if err != nil {
			return nil, err
		}
		response.Body = io.NopCloser(bytes.NewReader(body))
		x.status, x.header, x.responseBody = response.StatusCode, response.Header, body
		if err := c.check(r.Context(), x); err != nil {
			tb.Errorf("contract: %v", err)
		}
		return response, nil
	})
}

type roundTripper func(*http.Request) (*http.Response, error)

func (f roundTripper) RoundTrip(r *http.Request) (*http.Response, error) { return f(r) }

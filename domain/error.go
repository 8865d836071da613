package domain

import (
	"fmt"
	"strings"
)

// A Code classes an Error by what the caller can do about it.
type Code string

// The codes.
const (
	Malformed  Code = "malformed"   // the request could not be read at all
	Invalid    Code = "invalid"     // well-formed but wrong: "fields" says where and what to send
	NotFound   Code = "not-found"   // no such thing, or none that the caller may know of
	Gone       Code = "gone"        // it was here and was deleted, as was announced
	Conflict   Code = "conflict"    // it clashes with what is stored or under way
	Stale      Code = "stale"       // the caller's copy is not the latest
	NeedsMatch Code = "needs-match" // the write must say which copy it changes
	Denied     Code = "denied"      // the caller is known and may not do this
	NoKey      Code = "no-key"      // the caller is not known
	TooLarge   Code = "too-large"   // more than the service takes at once
	Full       Code = "full"        // the disk of the service has no room
	Internal   Code = "internal"    // our fault; the cause is for the log
)

// A Field says which part of a request is wrong.
type Field struct {
	Pointer string // RFC 6901 JSON pointer, or the name of a query parameter
	Detail  string // what is wrong, one sentence
	Send    string // what to send instead
}

// Fields gathers what is wrong with a request, so that a person sees all of it
// at once.
type Fields []Field

// Add notes a fault at pointer: detail says what is wrong, send what to send
// instead.
func (f *Fields) Add(pointer, detail, send string) {
	*f = append(*f, Field{Pointer: pointer, Detail: detail, Send: send})
}

// Check notes a fault unless ok holds.
func (f *Fields) Check(ok bool, pointer, detail, send string) {
	if !ok {
		f.Add(pointer, detail, send)
	}
}

// Err returns nil if no fault was noted, else an Invalid error with message.
func (f Fields) Err(message string) error {
	if len(f) == 0 {
		return nil
	}
	return &Error{Code: Invalid, Message: message, Fields: f}
}

// An Error is a failure that may be shown to a person.
type Error struct {
	Code    Code
	Message string // one sentence for a person: no SQL, no paths, no Go types
	Fields  Fields // which inputs are wrong, if Code is Invalid or Malformed
	Err     error  // the cause, for the log only; may be nil
}

// Errorf returns an Error of code c without fields.
func Errorf(c Code, format string, args ...any) *Error {
	return &Error{Code: c, Message: fmt.Sprintf(format, args...)}
}

// Error implements error. It includes the cause: use Message for people.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.Message)
	for _, f := range e.Fields {
		fmt.Fprintf(&b, " %s: %s (send %s)", f.Pointer, f.Detail, f.Send)
	}
	if e.Err != nil {
		fmt.Fprintf(&b, ": %v", e.Err)
	}
	return b.String()
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

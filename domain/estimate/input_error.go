package estimate

import "fmt"

// An InputError says what in a book or query is wrong and what to send instead.
// Both sentences may be shown to a person.
type InputError struct {
	Path   string // into the Book or query, such as "Measurements[3].Readings[0]"
	Detail string
	Send   string
}

// Error implements error.
func (e *InputError) Error() string {
	return fmt.Sprintf("%s: %s; send %s", e.Path, e.Detail, e.Send)
}

func fault(path, send, detail string, args ...any) *InputError {
	return &InputError{Path: path, Send: send, Detail: fmt.Sprintf(detail, args...)}
}

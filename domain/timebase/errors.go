package timebase

import (
	"errors"
	"fmt"
)

// ErrRange says that a result does not fit its integer type, or that a float64
// is NaN or infinite. Nothing in this package wraps round.
var ErrRange = errors.New("the value is outside the range that can be represented")

// ErrOffGrid says that an exact conversion was asked for and there is none.
var ErrOffGrid = errors.New("the value lies between two steps")

// An InputError says what is wrong with a text and what to send instead.
// Both sentences may be shown to a person.
type InputError struct {
	Input  string // what came in, shortened
	Detail string // what is wrong with it
	Send   string // what to send instead; never empty
}

// Error implements error.
func (e *InputError) Error() string {
	return fmt.Sprintf("%q: %s; send %s", e.Input, e.Detail, e.Send)
}

// inputError shortens an input that would fill the screen.
func inputError(input, detail, send string) *InputError {
	const most = 40
	if runes := []rune(input); len(runes) > most {
		input = string(runes[:most]) + "..."
	}
	return &InputError{Input: input, Detail: detail, Send: send}
}

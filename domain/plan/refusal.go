package plan

import "strings"

// A Field is one thing wrong with a problem.
type Field struct {
	// Pointer is the place, as a JSON pointer (RFC 6901) into the problem as a plan file writes it,
	// such as /controls/0/step.
	Pointer string
	// Detail says what is wrong, Send what to send instead.
	Detail, Send string
}

// A Refusal is the error of a problem that is not one; it lists everything wrong with it.
type Refusal struct{ Fields []Field }

// Error lists the fields, one a line.
func (r *Refusal) Error() string {
	lines := make([]string, len(r.Fields))
	for i, f := range r.Fields {
		lines[i] = f.Pointer + ": " + f.Detail + "; send " + f.Send
	}
	return strings.Join(lines, "\n")
}

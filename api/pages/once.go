package pages

import (
	"crypto/sha256"
	"slices"
	"strconv"

	"github.com/google/uuid"
)

// onceField is the hidden field that makes a form count once: it is new for each
// form that is shown, and kept when the form is sent again.
const onceField = "client_id"

func newOnce() string { return uuid.NewString() }

// once returns the idempotency key of the form that was sent, and the fingerprint
// of all that it says, so that the same key with other words is refused.
func (v *visit) once() (key string, fingerprint [32]byte) {
	values, err := v.FormParams()
	if err != nil || values.Get(onceField) == "" {
		return "", fingerprint
	}
	var names []string
	for name := range values {
		names = append(names, name)
	}
	slices.Sort(names)
	sum := sha256.New()
	for _, part := range append([]string{v.Request().URL.Path}, names...) {
		for _, text := range append([]string{part}, values[part]...) {
			sum.Write([]byte(strconv.Itoa(len(text)) + ":" + text))
		}
	}
	sum.Sum(fingerprint[:0])
	return values.Get(onceField), fingerprint
}
